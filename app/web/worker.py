"""One process that measures clips, one after the other, so that a page never waits for it.

It stays warm: what takes a second to import is imported once.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.history.clip_jobs import ClipJobs, Order
from app.web.clip_files import ClipFiles
from measure.errors import FlightmarkError, NothingToMeasure, UnreadableClip

SHORTEST_NEWS_S = 0.4


class Orders:
    """Orders as lines on standard input; a line on standard output for each that is done.

    Not the pipes of ``multiprocessing``: a child of those runs the parent's main module, which
    under Streamlit is whatever page somebody looks at.
    """

    def __init__(self) -> None:
        self._answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
        os.dup2(2, 1)  # whatever else is printed is no answer

    def take(self) -> Order:
        """Wait for the next order.

        Raises
        ------
        EOFError
            There will be no more.
        """
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        return Order(**json.loads(line))

    def answer(self) -> None:
        """Say that it is done."""
        self._answers.write("done\n")
        self._answers.flush()


def serve_orders(orders: Orders, url: str, clips_folder: str) -> None:
    """Measure every order that comes, and say so when it is done.

    Parameters
    ----------
    orders : Orders
    url : str
        Address of the history.
    clips_folder : str
    """
    from app.history.desk import open_desk

    desk = open_desk(url)
    files = ClipFiles(Path(clips_folder))
    import measure.analyse  # noqa: F401  # what every order needs, before the first comes

    while True:
        try:
            order = orders.take()
        except EOFError:
            return
        measure_order(order, jobs=desk.jobs, files=files)
        orders.answer()


def measure_order(
    order: Order, *, jobs: ClipJobs, files: ClipFiles, measuring: Any = None
) -> None:
    """Measure one clip and keep what came of it, then draw its pictures."""
    from app.measuring import real_measuring

    acts = measuring or real_measuring()
    news = _News(jobs, order.job_id)
    try:
        analysis = _analyse(order, files, acts, news)
    except (UnreadableClip, NothingToMeasure) as error:
        jobs.refuse(order.job_id, message=error.seen, hint=error.remedy, now=_now())
        return
    slow = analysis.report.time_base.file_s_per_s
    files.keep_frame_times(order.clip_sha256, [time * slow for time in analysis.frame_time_s])
    if jobs.finish(order.job_id, analysis.report, now=_now()) is not None:
        _draw(order, analysis, files, acts)


def _analyse(order: Order, files: ClipFiles, acts: Any, news: _News) -> Any:
    from measure.request import ClipRequest, Reference

    setup = order.setup or {}
    reference = setup.get("reference")
    with tempfile.TemporaryDirectory() as folder:
        lane = Path(folder) / "lane.json" if "marks" in setup else None
        if lane is not None:
            lane.write_text(json.dumps(setup), encoding="utf-8")
        request = ClipRequest(
            path=files.clip(order.clip_sha256, order.suffix),
            exercise=order.exercise,
            stature_m=order.stature_m,
            sex=order.sex,  # type: ignore[arg-type]
            reference=None if reference is None else Reference(
                tuple(reference["first_px"]), tuple(reference["second_px"]), reference["length_m"]
            ),
            lane=lane,
        )  # fmt: skip
        return acts.analyse(request, progress=news.tell)


def _draw(order: Order, analysis: Any, files: ClipFiles, acts: Any) -> None:
    """Draw the pictures; numbers stand without them."""
    stills = files.stills(order.clip_sha256)
    stills.mkdir(parents=True, exist_ok=True)
    target = files.annotated(order.clip_sha256)
    part = target.with_name("annotated.part.mp4")
    try:
        acts.write_stills(analysis, stills)
        acts.annotate(analysis, part)
        part.replace(target)
    except (FlightmarkError, OSError):
        part.unlink(missing_ok=True)


class _News:
    """Tells the database how far an analysis is, not more often than a page looks."""

    def __init__(self, jobs: ClipJobs, job_id: int) -> None:
        self._jobs, self._job_id, self._told_at = jobs, job_id, 0.0

    def tell(self, step: str, part: float) -> None:
        now = time.monotonic()
        if now - self._told_at >= SHORTEST_NEWS_S:
            self._told_at = now
            self._jobs.tell_progress(self._job_id, step, part)


def _now() -> datetime:
    return datetime.now(UTC)
