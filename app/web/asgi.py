"""The whole server: gate, routes and pages as one ASGI application."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import streamlit as st
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.responses import RedirectResponse
from starlette.routing import Route
from streamlit import config
from streamlit.starlette import App

from app.web.entrance import entrance_routes
from app.web.file_routes import file_routes
from app.web.gate import Gate
from app.web.look import THEME
from app.web.outside import outside_routes, read_provider
from app.web.say import plain
from app.web.services import services
from app.web.uploads import upload_routes
from measure.errors import FlightmarkError

SCRIPT = Path(__file__).parent / "visit" / "script.py"
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


def make_app(*, measures: bool = True, scheduler: str | None = None) -> App:
    """Give the application for one process of a server.

    Parameters
    ----------
    measures : bool
        Whether it has uploaded clips measured.
    scheduler : str, optional
        Address of the Dask scheduler to do so; this machine's cores where None.

    Raises
    ------
    HistoryFailed, StoreFailed, SettingFailed
        The history, the store or the sign-in setting can't be used.
    """
    provider = services().provider = read_provider()
    # Only ours: a file of the user's own for other programs changes nothing here.
    secrets = {"secrets.files": [] if provider is None else [str(provider.path)]}
    config.get_config_options(force_reparse=True, options_from_flags=OPTIONS | secrets)
    return App(
        SCRIPT,
        lifespan=_lifespan(measures, scheduler),
        middleware=[Middleware(Gate)],
        on_script_error=_say_fault,
        routes=[*entrance_routes(), *outside_routes(), *upload_routes(), *file_routes(), *HOMES],
    )


def _say_fault(error: Exception) -> bool:
    """Say in words what a page could not do; give whether that was possible."""
    if not isinstance(error, FlightmarkError):
        return False
    st.error(plain(str(error)))
    return True


def _lifespan(measures: bool, scheduler: str | None) -> Any:
    @contextlib.asynccontextmanager
    async def life(_app: App) -> AsyncIterator[None]:
        if not measures:
            yield
            return
        at = services()
        from app.jobs.clip_runner import ClipRunner
        from app.jobs.clip_work import Place

        place = Place(at.url, at.files.address)
        at.runner = ClipRunner(at.desk, at.files, place, scheduler=scheduler)
        at.runner.start()
        try:
            yield
        finally:
            await run_in_threadpool(at.runner.stop)
            at.runner = None

    return life
