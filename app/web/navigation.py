"""The row of pages: along the top of a desk's screen, at a thumb's reach on a phone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st


def show_navigation(pages: Mapping[str, Any], *, here: Any) -> None:
    """Show links to a visit's pages; the one that is open is marked and scrolled to."""
    with st.container(horizontal=True, key="fm-pages", gap="small"):
        for page in pages.values():
            is_here = page.url_path == here.url_path
            with st.container(width="content", key="fm-here" if is_here else None):
                st.page_link(page, label=page.title)
