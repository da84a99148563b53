"""Answer at once, without a thread and without the database."""

from __future__ import annotations

from fastapi import APIRouter

from models.trade.evaluation import MODEL_VERSION
from webapp.paths import program_version

router = APIRouter()


@router.get("/health")
async def health() -> dict[str, str]:
    """Say that the server answers, and which program and model it runs."""
    return {"status": "ok", "version": program_version(), "model_version": MODEL_VERSION}
