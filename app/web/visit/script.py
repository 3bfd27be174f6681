"""What Streamlit runs for every visit: who looks, which pages are theirs, and the page asked."""

from __future__ import annotations

import streamlit as st

from app.web import say
from app.web.links import keep_pages
from app.web.navigation import show_navigation
from app.web.pages.catalogue import pages_for
from app.web.session import viewer_now

st.set_page_config(page_title="flightmark", layout="wide", initial_sidebar_state="auto")
viewer = viewer_now()
st.html(say.STYLE)
pages = pages_for(viewer)
keep_pages(pages)
page = st.navigation(list(pages.values()), position="hidden")
show_navigation(pages, here=page)
page.run()
