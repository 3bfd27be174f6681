"""How quick the history is: ``python -m tests.benchmarks.history [--results N] [--url URL]``.

Fills an empty database with an invented team's results by ``flightmark import`` and asks what the
command line and the pages ask. Without an address it starts a PostgreSQL of its own, then does a
tenth of it on SQLite.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import hashlib
import io
import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from app.exchange.results import line_from_result
from app.folders import DATABASE_VARIABLE
from app.history import ResultRecord
from app.history.desk import Desk, open_desk
from app.main import main as flightmark
from app.repetitions import counting
from app.team_table import compare_team, list_kinds
from app.web.asking import monday_of, repetitions_of, team_repetitions
from measure.report import Caution, LandingReport, as_json
from tests.app.postgres import PostgresServer
from tests.app.reports import a_jump, a_report

RESULTS_PER_ATHLETE = 500
FIRST_DAY = date(2024, 1, 1)
DAYS = 728
TEAM_SIZE = 25
SPAN = timedelta(weeks=12)
"""What the page of a team shows at first."""
LINES_PER_FILE = 50_000
ASKED = 40
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
    os.environ[DATABASE_VARIABLE] = url
    rate = fill(athletes)
    rows = f"{len(athletes) * RESULTS_PER_ATHLETE:,} results of {len(athletes):,} athletes"
    print(f"{name}: {rows}")
    missed = told("import", rate, "results a second", is_good=rate >= LIMITS["import"])
    desk = open_desk()
    try:
        return int(missed | ask_all(desk, athletes))
    finally:
        desk.close()


def ask_all(desk: Desk, athletes: list[str]) -> bool:
    """Ask what people ask; give whether a limit is missed."""
    drawn = random.Random(2)
    ids = range(1, len(athletes) + 1)
    at: Any = SimpleNamespace(desk=desk)
    history = desk.history
    questions: list[tuple[str, str, Callable[[], object]]] = [
        ("an athlete's history", "history", lambda: history.list_jumps(drawn.choice(athletes))),
        ("... with whole reports", "history",
         lambda: history.list_results(drawn.choice(athletes))),
        ("... as the pages ask", "history", lambda: repetitions_of(at, [drawn.choice(ids)])),
        ("a team's week table", "week", lambda: a_week_table(at, ids, drawn)),
    ]  # fmt: skip
    return any([ask(what, limit, question) for what, limit, question in questions])


def fill(athletes: list[str]) -> float:
    """Import all results, and give how many a second; writing the files doesn't count."""
    lines = results(athletes)
    count, spent_s, best = 0, 0.0, 0.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "some.jsonl"
        while some := list(islice(lines, LINES_PER_FILE)):
            path.write_text("".join(some), encoding="utf-8")
            started = time.perf_counter()
            with contextlib.redirect_stdout(io.StringIO()) as said:
                flightmark(["import", str(path)])
            took_s = time.perf_counter() - started
            spent_s += took_s
            best = max(best, len(some) / took_s)
            count += len(some)
            assert f"{len(some)} new results" in said.getvalue(), said.getvalue()
            print(f"  {count:,} at {count / spent_s:,.0f} a second, {best:,.0f} at best",
                  file=sys.stderr, flush=True)  # fmt: skip
    return count / spent_s


def results(athletes: list[str]) -> Iterator[str]:
    """Make results up in order of time, as a history grows; give lines as export writes them."""
    drawn = random.Random(1)
    pattern = as_json(a_report(a_full_jump(), cautions=(a_caution(), a_caution())))
    for number in range(RESULTS_PER_ATHLETE):
        on_date = FIRST_DAY + timedelta(days=number * DAYS // RESULTS_PER_ATHLETE)
        moment = datetime(on_date.year, on_date.month, on_date.day, 17, tzinfo=UTC)
        for athlete in athletes:
            report = copy.copy(pattern)
            sha256 = hashlib.sha256(f"{athlete} {number}".encode()).hexdigest()
            report["clip"] = pattern["clip"] | {"sha256": sha256}
            report["exercise"] = EXERCISES[number % len(EXERCISES)]
            report["jumps"] = [a_jumps_numbers(jump, drawn) for jump in pattern["jumps"]]
            kept = ResultRecord(
                0, athlete, on_date, sha256, f"{number}.mp4", None, moment, "0.1.0",
                report["exercise"], report, {"stature_m": 1.7}, sha256,
            )  # fmt: skip
            yield line_from_result(kept, stature_m=1.7) + "\n"


def a_full_jump() -> Any:
    """A jump of which all was measured: a report as long as that of a real clip, 4 kB."""
    per_foot, number = {"left": 22.512345678, "right": 24.112345678}, 1.2345678901
    kinds = LandingReport.__annotations__
    names = [name for name in kinds if name.endswith(("deg", "_s", "ratio"))]
    landing = LandingReport(
        **{name: per_foot if "PerFoot" in str(kinds[name]) else number for name in names}
    )
    return a_jump(landing=landing)


def a_caution() -> Caution:
    return Caution(
        "stiff_knees", "The knees gave way little. " * 4, "36 ± 4 degrees", "less than 45 degrees",
        "Padua 2009, doi:10.1177/0363546509343200", 1.8,
    )  # fmt: skip


def a_jumps_numbers(jump: dict[str, Any], drawn: random.Random) -> dict[str, Any]:
    height_m = drawn.gauss(0.30, 0.03)
    return jump | {"height_m": height_m, "height_com_m": height_m - 0.01}


def a_week_table(at: Any, ids: range, drawn: random.Random) -> object:
    """Compare the last week of a team with its first one, as the page does."""
    start = drawn.randrange(max(1, len(ids) - TEAM_SIZE))
    since = FIRST_DAY + timedelta(days=DAYS) - SPAN
    found = counting(team_repetitions(at, ids[start : start + TEAM_SIZE], since=since))
    weeks = sorted({monday_of(each.on_date) for each in found})
    lines = compare_team(
        found, list_kinds(found)[0], "height_com_m", first_week=weeks[0], last_week=weeks[-1]
    )
    return [line.change for line in lines]


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
    words = f"ms at the median, {min(times_s) * 1000:.1f} at best, {late_s * 1000:.1f} at 95 %"
    return told(what, median_s * 1000, words, is_good=median_s < LIMITS[limit])


def told(what: str, value: float, unit: str, *, is_good: bool) -> bool:
    print(f"  {what:<24}{value:>10,.1f} {unit}{'' if is_good else '   MISSED'}", flush=True)
    return not is_good


if __name__ == "__main__":
    sys.exit(main())
