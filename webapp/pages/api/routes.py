"""`POST /api/v1/evaluate`: a study goes in, its figures come out, nothing is stored."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse

from models.study import parse_study, read_document
from models.trade.whole import whole_evaluation

router = APIRouter()


async def request_body(request: Request) -> bytes:
    """Return the body as it came."""
    return await request.body()


@router.post("/api/v1/evaluate")
def evaluate(body: Annotated[bytes, Depends(request_body)]) -> JSONResponse:
    """Evaluate the study in the body; a refused one answers 422 with its faults."""
    payload: dict[str, Any] = whole_evaluation(parse_study(read_document(body)))
    return JSONResponse(payload)
