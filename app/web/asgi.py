"""The whole server: gate, routes and pages as one ASGI application."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.middleware import Middleware
from starlette.responses import RedirectResponse
from starlette.routing import Route
from streamlit import config
from streamlit.starlette import App

from app.folders import data_folder
from app.web.clip_files import CLIPS_FOLDER_NAME
from app.web.entrance import entrance_routes
from app.web.file_routes import file_routes
from app.web.gate import Gate
from app.web.look import THEME
from app.web.services import services
from app.web.uploads import upload_routes
from app.web.workers import Workers

SCRIPT = Path(__file__).parent / "script.py"
OPTIONS: dict[str, Any] = {
    "server.headless": True,
    "server.fileWatcherType": "none",
    "server.runOnSave": False,
    "server.enableStaticServing": False,
    "server.maxUploadSize": 1,
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    "client.showSidebarNavigation": False,
    "browser.gatherUsageStats": False,
    "logger.level": "warning",
    **THEME,
}

HOMES = [Route(path, lambda _request: RedirectResponse("/", 303)) for path in ("/squad", "/today")]
"""A page that is somebody's home has the bare address only."""


def make_app(*, with_workers: bool = True) -> App:
    """Give the application for one process of a server."""
    config.get_config_options(force_reparse=True, options_from_flags=OPTIONS)
    return App(
        SCRIPT,
        lifespan=_lifespan(with_workers),
        middleware=[Middleware(Gate)],
        routes=[*entrance_routes(), *upload_routes(), *file_routes(), *HOMES],
    )


def _lifespan(with_workers: bool) -> Any:
    @contextlib.asynccontextmanager
    async def life(_app: App) -> AsyncIterator[None]:
        if not with_workers:
            yield
            return
        at = services()
        at.workers = Workers(
            at.desk.jobs, url=at.url, clips_folder=data_folder() / CLIPS_FOLDER_NAME
        )
        at.workers.start()
        try:
            yield
        finally:
            at.workers.stop()
            at.workers = None

    return life
