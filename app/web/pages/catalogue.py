"""Which pages there are, and for whom."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from app.accounts.people import Viewer
from app.web.pages import (
    clip,
    compare,
    film,
    follow,
    me,
    people,
    places,
    plan,
    review,
    squad,
    table,
    today,
)

ATHLETE = (
    (today.show, "Today", "today"),
    (film.show, "Film", "film"),
    (clip.show, "Results", "clip"),
    (follow.show, "Progress", "follow"),
    (me.show, "Me", "me"),
)
COACH = (
    (squad.show, "Squad", "squad"),
    (review.show, "Review", "review"),
    (compare.show, "Side by side", "compare"),
    (follow.show, "Progress", "follow"),
    (table.show, "Team table", "table"),
    (plan.show, "Plan", "plan"),
    (film.show, "Add clips", "film"),
    (places.show, "Places", "places"),
    (people.show, "People", "people"),
    (clip.show, "Results", "clip"),
    (me.show, "Me", "me"),
)


def pages_for(viewer: Viewer) -> dict[str, Any]:
    """Give the pages of a viewer by their address, the first one as their home."""
    chosen = COACH if viewer.is_coach else ATHLETE
    return {each[2]: _page(*each, is_home=each is chosen[0]) for each in chosen}


def _page(show: Callable[[], None], title: str, path: str, *, is_home: bool) -> Any:
    return st.Page(show, title=title, url_path=path, default=is_home)
