"""How quick the pages are: ``python -m tests.benchmarks.pages [--demo DIR] [--athletes N]``.

Opens every page in a real Chromium, on a server over the folder of ``flightmark demo`` and on one
with invented athletes and two years of results, and prints how long each took until it could be
used; then sends a large file and prints how much memory the server took for it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from app.folders import FOLDER_VARIABLE
from app.web.screens import (
    ATHLETE_PAGES,
    COACH_PAGES,
    IS_READY,
    PORT,
    open_chromium,
    serving,
    sign_people_in,
)
from app.web.services import COOKIE, use_services

LIMITS_S = {"demo": 1.5, "large": 2.5}
LARGE_FILE_BYTES = 500 << 20
SLICE_BYTES = 8 << 20
MOST_MEMORY_BYTES = 100 << 20
TAKES = 3
BASE = f"http://127.0.0.1:{PORT}"


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--demo", type=Path, help="folder of a demo; none where absent")
    parser.add_argument("--athletes", type=int, default=200)
    parser.add_argument("--results", type=int, default=250, help="of each athlete")
    parser.add_argument("--keep", type=Path, help="fill this folder, or take it as it is")
    arguments = parser.parse_args()
    missed = 0
    if arguments.demo:
        missed += measure_folder("demo", arguments.demo)
    with tempfile.TemporaryDirectory() as scratch:
        folder = arguments.keep or Path(scratch)
        if not (folder / "history.sqlite").exists():
            fill(folder, athletes=arguments.athletes, results=arguments.results)
        missed += measure_folder("large", folder, sends=True)
    return int(missed > 0)


def fill(folder: Path, *, athletes: int, results: int) -> None:
    """Fill a history with invented athletes who train for two years up to today."""
    from app.folders import sqlite_url
    from app.history import open_history
    from tests.benchmarks import history as made

    made.FIRST_DAY = date.today() - timedelta(days=made.DAYS)
    made.RESULTS_PER_ATHLETE = results
    names = [f"Athlete {number:03d}" for number in range(athletes)]
    os.environ[FOLDER_VARIABLE] = str(folder)
    made.fill(names)
    with open_history(sqlite_url(folder)) as history:
        history.refresh_statistics()


def measure_folder(name: str, folder: Path, *, sends: bool = False) -> int:
    """Measure every page over one folder; give how many are too slow."""
    os.environ[FOLDER_VARIABLE] = str(folder)
    use_services(None)
    cookies = sign_people_in()
    limit_s, missed = LIMITS_S[name], 0
    print(f"{name}: pages until they can be used, limit {limit_s} s; load {os.getloadavg()[0]:.1f}")
    with serving() as server:
        with open_chromium() as browser:
            for who, pages in (("mara", COACH_PAGES), ("athlete", ATHLETE_PAGES)):
                missed += measure_pages(browser, cookies[who], who, pages, limit_s=limit_s)
        if sends:
            missed += measure_upload(server, cookies["athlete"])
    return missed


def measure_pages(
    browser: Any, cookie: str, who: str, pages: Sequence[str], *, limit_s: float
) -> int:
    """Open each page some times and print the median."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.add_cookies([{"name": COOKIE, "value": cookie, "url": BASE}])
    missed = 0
    for address in ("me", *pages):  # the first one of all brings the programs in
        times_s = [open_page(context, address) for _ in range(TAKES)]
        median_s = statistics.median(times_s)
        is_missed = median_s > limit_s
        missed += is_missed
        shown = f"{who} /{address}"
        print(f"  {shown:<24}{median_s:6.2f} s{'   MISSED' if is_missed else ''}", flush=True)
    context.close()
    return missed


def open_page(context: Any, address: str) -> float:
    """Give the seconds from asking for a page until it can be used."""
    page = context.new_page()
    page.goto(f"{BASE}/{address}", wait_until="commit")
    page.wait_for_function(IS_READY, timeout=120_000)
    time_s = float(page.evaluate("performance.now()")) / 1000
    page.close()
    return time_s


def measure_upload(server: subprocess.Popen[bytes], cookie: str) -> int:
    """Send a large file as the page does and print what the server's memory rose by."""
    import httpx

    headers = {"Origin": BASE}
    with httpx.Client(base_url=BASE, cookies={COOKIE: cookie}, headers=headers, timeout=60) as web:
        before = memory_bytes(server.pid)
        said = {"file_name": "long.mp4", "size": LARGE_FILE_BYTES}
        name = web.post("/uploads", json=said).json()["name"]
        started, most, slice_ = time.perf_counter(), before, bytes(SLICE_BYTES)
        for at in range(0, LARGE_FILE_BYTES, SLICE_BYTES):
            some = slice_[: LARGE_FILE_BYTES - at]
            answer = web.patch(f"/uploads/{name}", content=some, headers={"Upload-Offset": str(at)})
            answer.raise_for_status()
            most = max(most, memory_bytes(server.pid))
        took_s = time.perf_counter() - started
    rise = most - before
    is_missed = rise > MOST_MEMORY_BYTES
    print(
        f"  {LARGE_FILE_BYTES >> 20} MB sent in {took_s:.1f} s: memory of the server rose by "
        f"{rise >> 20} MB to {most >> 20} MB{'   MISSED' if is_missed else ''}"
    )
    return int(is_missed)


def memory_bytes(process: int) -> int:
    """Give the resident memory of one process."""
    pages = int(Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


if __name__ == "__main__":
    sys.exit(main())
