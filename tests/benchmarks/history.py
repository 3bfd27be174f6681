"""How quick the history is: ``python -m tests.benchmarks.history [--results N] [--url URL]``.

Fills an empty database with invented athletes and prints what importing and asking took. Without
an address it starts a PostgreSQL of its own, then does a tenth of it on SQLite.
"""

from __future__ import annotations

import argparse
import copy
import gc
import hashlib
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from app.history import History, Measured, open_history
from measure.report import LandingReport, as_json
from tests.app.postgres import PostgresServer
from tests.app.reports import a_jump, a_report

RESULTS_PER_ATHLETE = 500
FIRST_DAY = date(2024, 1, 1)
DAYS = 728
TEAM_SIZE = 25
AT_ONCE = 4000
ASKED = 60
EXERCISES = ("vertical", "single_leg_vertical", "approach_jump", "drop_hops")
LIMITS = {"history": 0.050, "week": 0.150, "import": 5000.0}


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=int, default=1_000_000)
    parser.add_argument("--url", help="an empty database instead")
    arguments = parser.parse_args()
    if arguments.url:
        return measure("database", arguments.url, arguments.results)
    server = PostgresServer()
    try:
        code = measure("PostgreSQL", server.new_database(), arguments.results)
    finally:
        server.close()
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'history.sqlite'}"
        return max(code, measure("SQLite", url, arguments.results // 10))


def measure(name: str, url: str, result_count: int) -> int:
    """Fill one database and ask it; give 1 where a limit is missed."""
    athletes = [f"Athlete {number:05d}" for number in range(result_count // RESULTS_PER_ATHLETE)]
    with open_history(url) as history:
        rate = fill(history, athletes)
        rows = f"{len(athletes) * RESULTS_PER_ATHLETE:,} results of {len(athletes):,} athletes"
        print(f"{name}: {rows}")
        missed = told("import", rate, "results a second", is_good=rate >= LIMITS["import"])
        history.refresh_statistics()
        drawn = random.Random(2)
        missed |= ask(
            "an athlete's jumps", "history", lambda: history.list_jumps(drawn.choice(athletes))
        )
        missed |= ask(
            "... and whole reports", "history", lambda: history.list_results(drawn.choice(athletes))
        )
        missed |= ask("a team's week table", "week", lambda: a_week(history, athletes, drawn))
    return int(missed)


def fill(history: History, athletes: list[str]) -> float:
    """Import all results, and give how many a second; making them up doesn't count."""
    made = results(athletes)
    count, spent_s = 0, 0.0
    gc.disable()  # as the command does
    while some := [item for _, item in zip(range(AT_ONCE), made, strict=False)]:
        started = time.perf_counter()
        history.import_results(some)
        spent_s += time.perf_counter() - started
        count += len(some)
        if count % 50_000 == 0:
            print(f"  {count:,} at {count / spent_s:,.0f} a second", file=sys.stderr, flush=True)
    gc.enable()
    return count / spent_s


def results(athletes: list[str]) -> Iterator[Measured]:
    """Make results up in order of time, as a history grows."""
    drawn = random.Random(1)
    landing = LandingReport(
        knee_flexion_contact_deg={"left": 22.5, "right": 24.1}, time_to_steady_s=0.62,
        knee_flexion_peak_deg={"left": 71.5, "right": 70.2}, extra_step=False, held_s=1.4,
    )  # fmt: skip
    pattern = as_json(a_report(a_jump(landing=landing), a_jump(landing=landing)))
    for number in range(RESULTS_PER_ATHLETE):
        on_date = FIRST_DAY + timedelta(days=number * DAYS // RESULTS_PER_ATHLETE)
        moment = datetime(on_date.year, on_date.month, on_date.day, 17, tzinfo=UTC)
        for athlete in athletes:
            report = copy.copy(pattern)
            sha256 = hashlib.sha256(f"{athlete} {number}".encode()).hexdigest()
            report["clip"] = pattern["clip"] | {"sha256": sha256}
            report["exercise"] = EXERCISES[number % len(EXERCISES)]
            report["jumps"] = [a_jumps_numbers(jump, drawn) for jump in pattern["jumps"]]
            yield Measured(report, athlete, on_date, f"{number}.mp4", moment)


def a_jumps_numbers(jump: dict[str, Any], drawn: random.Random) -> dict[str, Any]:
    height_m = drawn.gauss(0.30, 0.03)
    return jump | {"height_m": height_m, "height_com_m": height_m - 0.01}


def a_week(history: History, athletes: list[str], drawn: random.Random) -> object:
    start = drawn.randrange(max(1, len(athletes) - TEAM_SIZE))
    monday = FIRST_DAY + timedelta(weeks=drawn.randrange(DAYS // 7 - 1))
    return history.list_week(
        athletes[start : start + TEAM_SIZE], first_day=monday, last_day=monday + timedelta(days=6)
    )


def ask(what: str, limit: str, question: Callable[[], object]) -> bool:
    """Ask again and again; give whether the limit is missed at the median."""
    times_s = []
    for _ in range(ASKED):
        started = time.perf_counter()
        answer = question()
        times_s.append(time.perf_counter() - started)
        assert answer
    median_s = statistics.median(times_s)
    late_s = sorted(times_s)[int(0.95 * len(times_s))]
    words = f"ms at the median, {late_s * 1000:.1f} at 95 %"
    return told(what, median_s * 1000, words, is_good=median_s < LIMITS[limit])


def told(what: str, value: float, unit: str, *, is_good: bool) -> bool:
    print(f"  {what:<24}{value:>10,.1f} {unit}{'' if is_good else '   MISSED'}", flush=True)
    return not is_good


if __name__ == "__main__":
    sys.exit(main())
