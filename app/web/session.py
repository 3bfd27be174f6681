"""Whose run of a page this is: looked up in the database every time, in fragments too."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import NoReturn

import streamlit as st

from app.accounts.people import Viewer
from app.errors import HistoryFailed
from app.report.units import Units
from app.web.services import COOKIE, Services, services


def viewer_now() -> Viewer:
    """Give who looks; where nobody is signed in any more, say so and stop this run."""
    try:
        viewer = services().desk.people.find_viewer(read_cookie())
    except HistoryFailed as error:
        st.error(f"{error.seen} {error.remedy}")
        st.stop()
    if viewer is None:
        st.warning("You are signed out.")
        st.html('<a href="/enter" target="_self">Sign in</a>')
        st.stop()
    return viewer


def read_cookie() -> str | None:
    """Give the cookie of this visit's browser."""
    cookie = st.context.cookies.get(COOKIE)
    return cookie if isinstance(cookie, str) else None


def at_desk() -> Services:
    """Give what is open in this server."""
    return services()


def units_of(viewer: Viewer) -> Units:
    """Give the units that the viewer reads."""
    return Units(viewer.uses_inches, viewer.uses_yards)


def now() -> datetime:
    """Give this moment."""
    return datetime.now(UTC)


def not_yours() -> NoReturn:
    """Say that there is nothing here, whether it does not exist or is somebody else's."""
    st.info("There is nothing of yours here.")
    st.stop()


def number_asked(name: str) -> int | None:
    """Give a number from the page's address."""
    text = st.query_params.get(name, "")
    return int(text) if text.isdigit() and len(text) < 12 else None
