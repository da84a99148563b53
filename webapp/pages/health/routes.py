"""Say whether the server and its database answer, without waiting behind the pages' requests."""

from __future__ import annotations

import anyio
import anyio.to_thread
from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from models.errors import StorageError
from models.trade.evaluation import MODEL_VERSION
from webapp.access import store
from webapp.paths import program_version

PATIENCE_S = 2.0

router = APIRouter()


@router.get("/health")
async def health(request: Request) -> JSONResponse:
    """Say which program, model and database run; status 503 where the database does not answer."""
    opened = store(request)
    database: dict[str, object] = {"kind": opened.kind, "answers": False, "tables": None}
    with anyio.move_on_after(PATIENCE_S):
        try:
            database["tables"] = await anyio.to_thread.run_sync(
                opened.version, abandon_on_cancel=True, limiter=_limiter(request)
            )
            database["answers"] = True
        except StorageError:
            pass
    answer = {
        "status": "ok" if database["answers"] else "failing",
        "version": program_version(),
        "model_version": MODEL_VERSION,
        "database": database,
    }
    return JSONResponse(answer, status_code=200 if database["answers"] else 503)


def _limiter(request: Request) -> anyio.CapacityLimiter:
    """The one thread that health has for itself."""
    state = request.app.state
    if not hasattr(state, "health_limiter"):
        state.health_limiter = anyio.CapacityLimiter(1)
    limiter: anyio.CapacityLimiter = state.health_limiter
    return limiter
