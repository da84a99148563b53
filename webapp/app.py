"""The web app, built from a settings object; nothing happens on import."""

from __future__ import annotations

import importlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import anyio.to_thread
from fastapi import APIRouter, FastAPI
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from models.services import open_store
from webapp.access import HostCheck, SecurityHeaders
from webapp.errors import install_error_handlers
from webapp.logs import RequestLog
from webapp.paths import PACKAGE, data_folder, program_version
from webapp.settings import Settings


class HashedStaticFiles(StaticFiles):
    """Static files that a browser may keep for a year where the address carries their hash."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with the file and how long it may be kept."""
        response = await super().get_response(path, scope)
        hashed = scope.get("query_string", b"").startswith(b"v=")
        if response.status_code in {200, 304}:
            kept = "public, max-age=31536000, immutable" if hashed else "no-cache"
            response.headers["cache-control"] = kept
        return response


def create_app(settings: Settings) -> FastAPI:
    """Return the web app; its store of studies is opened when it starts, and closed at its end."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        limiter = anyio.to_thread.current_default_thread_limiter()
        limiter.total_tokens = settings.worker_threads
        app.state.store = await anyio.to_thread.run_sync(open_store, settings.database())
        try:
            yield
        finally:
            await anyio.to_thread.run_sync(app.state.store.close)

    app = FastAPI(
        title="Switchover",
        version=program_version(),
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        max_body_size=settings.max_body_bytes,
        redirect_slashes=False,
    )
    app.state.settings = settings
    install_error_handlers(app)
    for router in page_routers():
        app.include_router(router)
    app.mount("/static", HashedStaticFiles(directory=data_folder("static")), name="static")
    app.add_middleware(SecurityHeaders)
    app.add_middleware(HostCheck, host_names=settings.host_names)
    app.add_middleware(RequestLog)
    return app


def page_routers() -> list[APIRouter]:
    """Return the router of every folder in `webapp.pages`, in the order of their names."""
    names = sorted(file.parent.name for file in (PACKAGE / "pages").glob("*/routes.py"))
    return [importlib.import_module(f"webapp.pages.{name}.routes").router for name in names]
