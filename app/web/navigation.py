"""The row of pages: along the top of a desk's screen, at a thumb's reach on a phone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st


def show_navigation(pages: Mapping[str, Any]) -> None:
    """Show links to a visit's pages; Streamlit marks the one that is open."""
    with st.container(horizontal=True, key="fm-pages", gap="small"):
        for page in pages.values():
            st.page_link(page, label=page.title)
