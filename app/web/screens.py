"""Pictures of every page at the sizes of a phone and a desk, light and dark, to look at.

``python -m app.web.screens --folder DEMO --out DIR`` with a folder that ``flightmark demo`` made.
It serves the folder for itself and needs playwright and a Chromium.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.request import urlopen

from app.folders import FOLDER_VARIABLE

SIZES = {"phone": (390, 844), "desk": (1440, 900)}
SCHEMES = ("light", "dark")
PORT = 8531
PASSWORD = "only for pictures"
COACH_PAGES = ("", "review?id=1", "compare", "follow", "table", "plan", "film", "places",
               "people", "clip?id=1", "me")  # fmt: skip
ATHLETE_PAGES = ("", "film", "clip", "follow", "me")
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
TALLEST_PX = 4000
IS_READY = """() => {
  const app = document.querySelector('[data-testid=stApp]');
  if (!app) return document.readyState === 'complete' && !!document.querySelector('main form');
  return app.dataset.testScriptState === 'notRunning' && !!document.querySelector('h1')
    && !document.querySelector('[data-testid=stSkeleton]');
}"""
"""A page can be used: its script has run, and nothing of it is still to come."""


def main() -> None:
    """Make the pictures."""
    parser = argparse.ArgumentParser(prog="python -m app.web.screens", description=__doc__)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    arguments = parser.parse_args()
    arguments.out.mkdir(parents=True, exist_ok=True)
    os.environ[FOLDER_VARIABLE] = str(arguments.folder)
    cookies = sign_people_in()
    with serving(), open_chromium() as browser:
        for scheme in SCHEMES:
            for size in SIZES:
                _take_all(browser, cookies, arguments.out, scheme=scheme, size=size)


def sign_people_in() -> dict[str, str]:
    """Make a coach and an athlete's account where there are none; give their cookies."""
    from app.accounts.people import NewPerson
    from app.history.plans import Entry, PlannedDay
    from app.web.services import services

    desk, now = services().desk, datetime.now(UTC)
    if not desk.people.has_accounts():
        coach = NewPerson("Mara Ilven", "mara", PASSWORD)
        viewer = desk.people.find_viewer(desk.people.found_team(coach, team="Harbour", now=now))
        assert viewer is not None
        team_id = viewer.team_ids[0]
        face = desk.people.list_athletes(viewer)[0]
        link = desk.people.invite(
            viewer, team_id=team_id, role="athlete", athlete_id=face.athlete_id, now=now
        )
        athlete = NewPerson(face.name, "athlete", PASSWORD, born_on=date(2004, 5, 6), agrees=True)
        desk.people.join(link, athlete, now=now)
        entries = (
            Entry("Easy running and leg swings, 8 minutes"),
            Entry("Jumps, each as high as you can", "vertical", 3, 5, rest_s=120.0, pair="A"),
            Entry("Hold on one leg", None, 3, 1, True, pause_s=20.0, pair="A"),
        )
        for offset in (0, 2):
            on_date = date.today() + timedelta(days=offset)
            desk.plans.save_day(PlannedDay(team_id, on_date, "Jumping", entries))
    signed = {
        name: desk.people.sign_in(name, PASSWORD, address="here", now=now)
        for name in ("mara", "athlete")
    }
    return {name: cookie for name, cookie in signed.items() if cookie is not None}


@contextmanager
def serving() -> Iterator[subprocess.Popen[bytes]]:
    """Serve the data folder as ``flightmark serve`` does, for as long as the context lasts."""
    call = f"from app.main import main; main(['serve', '--port', '{PORT}'])"
    server = subprocess.Popen([sys.executable, "-c", call])
    try:
        _wait_for_server(server)
        yield server
    finally:
        server.terminate()
        server.wait(20)


def _wait_for_server(server: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        with suppress(OSError), urlopen(f"http://127.0.0.1:{PORT}/healthz", timeout=2):
            return
        if server.poll() is not None:
            break
        time.sleep(0.3)
    raise SystemExit("The server did not start.")


@contextmanager
def open_chromium() -> Iterator[Any]:
    """Give a Chromium for as long as the context lasts."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(ARGUMENTS)
        )
        yield browser
        browser.close()


def _take_all(
    browser: Any, cookies: dict[str, str], out: Path, *, scheme: str, size: str
) -> None:
    from app.web.services import COOKIE

    width, height = SIZES[size]
    for who, pages in (("mara", COACH_PAGES), ("athlete", ATHLETE_PAGES), ("", ("enter",))):
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme,
            is_mobile=size == "phone", has_touch=size == "phone",
        )  # fmt: skip
        base = f"http://127.0.0.1:{PORT}"
        if who:
            context.add_cookies([{"name": COOKIE, "value": cookies[who], "url": base}])
        page = context.new_page()
        for address in pages:
            name = f"{who or 'door'}-{address.split('?')[0] or 'home'}-{size}-{scheme}.png"
            _take(page, f"{base}/{address}", out / name, width=width, height=height)
        context.close()


def _take(page: Any, address: str, path: Path, *, width: int, height: int) -> None:
    page.goto(address, wait_until="commit")
    page.wait_for_function(IS_READY, timeout=120_000)
    page.wait_for_timeout(1500)  # films and pictures
    if page.evaluate("document.documentElement.scrollWidth") > width:
        print(f"{path.name}: wider than the screen")
    tall = page.evaluate(
        "(document.querySelector('[data-testid=stMain]') || document.body).scrollHeight"
    )
    page.set_viewport_size({"width": width, "height": min(max(tall, height), TALLEST_PX)})
    page.wait_for_timeout(600)
    page.screenshot(path=path)
    page.set_viewport_size({"width": width, "height": height})


if __name__ == "__main__":
    main()
