"""Links from page to page that keep the visit: no reload, no new tab."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from app.web.say import plain

KEPT = "pages_by_path"


def keep_pages(pages: Mapping[str, Any]) -> None:
    """Remember this visit's pages by their address."""
    st.session_state[KEPT] = dict(pages)


def link(label: str, path: str, **query: object) -> None:
    """Show a link to one of our pages; where a visit has no such page, only its words."""
    page = st.session_state.get(KEPT, {}).get(path)
    if page is None:
        st.markdown(plain(label))
        return
    asked = {key: str(value) for key, value in query.items() if value is not None}
    st.page_link(page, label=plain(label), query_params=asked or None)
