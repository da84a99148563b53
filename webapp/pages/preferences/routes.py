"""Keep the units, the name and whether ranges are shown, as a user has chosen."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse
from starlette.datastructures import FormData

from models.units import UnitSystem
from webapp.access import (
    AUTHOR_COOKIE,
    RANGES_COOKIE,
    UNITS_COOKIE,
    checked_form,
    clean_name,
    keep_cookie,
    local_address,
)

router = APIRouter()
Form = Annotated[FormData, Depends(checked_form)]


@router.post("/units")
def keep_units(request: Request, form: Form) -> RedirectResponse:
    """Keep the units in which figures are shown, and go back to the page."""
    chosen = UnitSystem.INCH_POUND if form.get("units") == "inch-pound" else UnitSystem.SI
    response = RedirectResponse(local_address(form.get("next")), status_code=303)
    keep_cookie(request, response, UNITS_COOKIE, chosen.value)
    return response


@router.post("/ranges")
def keep_ranges(request: Request, form: Form) -> RedirectResponse:
    """Keep whether figures are shown with their ranges, and go back to the page."""
    response = RedirectResponse(local_address(form.get("next")), status_code=303)
    shown = "shown" if form.get("ranges") == "shown" else "hidden"
    keep_cookie(request, response, RANGES_COOKIE, shown)
    return response


@router.post("/author")
def keep_author(request: Request, form: Form) -> RedirectResponse:
    """Keep the name that is put on this user's saves, and go back to the page."""
    response = RedirectResponse(local_address(form.get("next")), status_code=303)
    keep_cookie(request, response, AUTHOR_COOKIE, clean_name(str(form.get("author", ""))))
    return response
