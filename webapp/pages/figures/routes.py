"""Explain every figure; no study is needed, and whoever holds a link may read it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.figures.context import figures_context
from webapp.templating import render

router = APIRouter()


@router.get("/figures")
def show_figures(request: Request) -> Response:
    """Show what every figure means and what guards it.

    It is shown as to a viewer, without a way to the studies: a link's holder comes here too.
    """
    return render(request, "pages/figures/figures.html", {"viewer": True, **figures_context()})
