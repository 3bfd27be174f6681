"""The whole path in a real Chromium: invite, sign in on a phone, send a clip, see the number, a
coach moves an event, the trend changes, the team's table, the printed sheet. Nothing is fetched
from outside.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest

from sample_clips import __file__ as samples_file

CHROMIUM = shutil.which("chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
CLIP = Path(samples_file).parent / "clips" / "vertical_side_60.mp4"
PASSWORD = "quite a long password"
SLOW_MS = 180_000

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="there is no Chromium on this machine"),
]


@pytest.fixture
def base(data_folder: Path) -> Iterator[str]:
    """A server of its own over an empty folder, as a user starts it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    call = f"from app.main import main; main(['serve', '--port', '{port}'])"
    server = subprocess.Popen([sys.executable, "-c", call], env=dict(os.environ))
    address = f"http://127.0.0.1:{port}"
    for _ in range(200):
        try:
            with urlopen(f"{address}/healthz", timeout=2):
                break
        except OSError:
            assert server.poll() is None, "the server did not start"
            time.sleep(0.3)
    yield address
    server.terminate()
    server.wait(20)


@pytest.fixture
def open_page(base: str) -> Iterator[Any]:
    """Give new visits of a phone or a desk; a request to elsewhere fails the test."""
    playwright = pytest.importorskip("playwright.sync_api")
    outside: list[str] = []
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)

        def visit(*, phone: bool) -> Any:
            size = {"width": 390, "height": 844} if phone else {"width": 1440, "height": 900}
            context = browser.new_context(
                viewport=size, is_mobile=phone, has_touch=phone, base_url=base
            )
            page = context.new_page()
            page.set_default_timeout(60_000)
            page.on("request", lambda request: _note_outside(request.url, base, outside))
            return page

        yield visit
        browser.close()
    assert outside == []


def _note_outside(url: str, base: str, outside: list[str]) -> None:
    if not url.startswith((base, "data:", "blob:")):
        outside.append(url)


def fill(page: Any, **fields: str) -> None:
    for name, value in fields.items():
        page.fill(f"#{name}", value)


def test_from_invitation_to_printed_sheet(open_page: Any) -> None:
    coach = open_page(phone=False)
    coach.goto("/")
    fill(coach, name="Mara", team="Harbour", sign_in_name="mara", password=PASSWORD,
         again=PASSWORD)  # fmt: skip
    coach.get_by_role("button", name="Begin").click()
    coach.get_by_role("heading", name="Squad").wait_for()
    link = invite(coach)
    athlete = open_page(phone=True)
    join(athlete, link)
    send_and_see_the_number(athlete)
    before = move_the_take_off(coach)
    trend_has_changed(coach, before)
    table_and_sheets(coach)
    sign_out_reaches_an_open_page(coach)


def invite(coach: Any) -> str:
    coach.goto("/people")
    coach.get_by_text("Make a one-time link").click()
    coach.get_by_role("button", name="Make the link").click()
    return str(coach.locator("code").first.inner_text()).strip()


def join(athlete: Any, link: str) -> None:
    athlete.goto(link)
    fill(athlete, name="Ilka", sign_in_name="ilka", password=PASSWORD, again=PASSWORD,
         born_on="2001-02-03", stature_cm="172")  # fmt: skip
    athlete.get_by_label("I agree").check()
    athlete.get_by_role("button", name="Join").click()
    athlete.get_by_role("heading", name=re.compile("Today")).wait_for()
    athlete.reload()  # the session survives
    athlete.get_by_role("heading", name=re.compile("Today")).wait_for()


def send_and_see_the_number(athlete: Any) -> None:
    athlete.goto("/film")
    athlete.locator("input[type=file]").wait_for(state="attached")
    away = 2  # the database is away, and comes back
    athlete.route("**/uploads", lambda route: route.fulfill(status=503), times=away)
    athlete.locator("input[type=file]").set_input_files(CLIP)
    measured = athlete.get_by_role("link", name=re.compile("— measured"))
    measured.wait_for(timeout=SLOW_MS)
    measured.click()
    athlete.get_by_text("What these numbers mean").wait_for()
    assert re.search(r"± \d", athlete.locator(".fm-big").inner_text())
    assert athlete.evaluate("document.documentElement.scrollWidth") <= 390


def move_the_take_off(coach: Any) -> str:
    coach.goto("/follow")
    fact = coach.locator(".fm-fact b").first
    fact.wait_for()
    before = str(fact.inner_text())
    coach.goto("/review?id=1")
    film = coach.locator(".box[data-ready]")
    film.wait_for()
    at_take_off = film.get_attribute("data-frame")
    coach.get_by_role("button", name="landing", exact=True).click()
    coach.locator(f".box[data-frame]:not([data-frame='{at_take_off}'])").wait_for()
    coach.get_by_role("button", name="Take this frame").click()
    event = coach.get_by_role("combobox", name="Event")  # the one near the frame is meant
    event.and_(coach.locator("[value=landing]")).wait_for()
    coach.get_by_role("button", name="take-off", exact=True).click()
    coach.locator(f".box[data-frame='{at_take_off}']").wait_for()
    film.focus()
    shown = int(film.get_attribute("data-frame"))
    for step in range(1, 4):
        coach.keyboard.press("ArrowLeft")
        coach.locator(f".box[data-frame='{shown - step}']").wait_for()
    coach.get_by_role("button", name="Take this frame").click()
    event.and_(coach.locator("[value=take-off]")).wait_for()
    coach.get_by_label("Why").fill("the toe leaves earlier")
    coach.wait_for_timeout(1500)
    coach.get_by_role("button", name="Move it").click()
    coach.get_by_text("by Mara").first.wait_for()
    return before


def trend_has_changed(coach: Any, before: str) -> None:
    coach.goto("/follow")
    fact = coach.locator(".fm-fact b").first
    fact.wait_for()
    assert fact.inner_text() != before


def table_and_sheets(coach: Any) -> None:
    coach.goto("/table")
    coach.get_by_role("cell", name="Ilka").wait_for()
    here = coach.locator(".st-key-fm-here")
    assert here.inner_text().strip() == "Team table"
    assert int(here.locator("p").evaluate("mark => getComputedStyle(mark).fontWeight")) >= 700
    for name in ("CSV", "PDF"):
        link = coach.get_by_role("link", name=re.compile(name)).get_attribute("href")
        answer = coach.request.get(link)
        assert answer.ok
        assert len(answer.body()) > 200
    assert answer.body().startswith(b"%PDF")


def sign_out_reaches_an_open_page(coach: Any) -> None:
    other = coach.context.new_page()
    other.goto("/me")
    other.get_by_role("button", name="Sign out everywhere").click()
    other.get_by_role("heading", name="Sign in").wait_for()
    coach.get_by_role("button", name="best").click()  # an open page, its websocket still alive
    coach.get_by_text("You are signed out.").wait_for()
