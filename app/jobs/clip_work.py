"""One uploaded clip measured on a worker: how far it is, what came of it, its pictures.

A worker writes to the database itself, so that a page sees the number before the pictures are
drawn, and asks it whether anybody still waits, so that stopping takes a moment only.
"""

from __future__ import annotations

import functools
import json
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.clip_files import ClipFiles, drawing_folder
from app.errors import HistoryFailed, StoreFailed
from app.history.clip_jobs import ClipJobs, Order
from app.jobs.batch import insist
from measure.errors import FlightmarkError, NothingToMeasure, UnreadableClip

if TYPE_CHECKING:
    from app.history.desk import Desk

SHORTEST_NEWS_S = 0.4


class NobodyWaits(Exception):
    """The clip was stopped by hand, or its athlete is gone."""


@dataclass(frozen=True)
class Place:
    """What a worker needs to reach."""

    history_url: str
    store_address: str


def measure_upload(order: Order, place: Place) -> None:
    """Measure the clip of an order and keep what came of it: the task of a worker."""
    desk, files = _open(place)
    measure_order(order, desk=desk, files=files)


@functools.cache
def _open(place: Place) -> tuple[Desk, ClipFiles]:
    """Open what a worker uses again and again, once in its process."""
    from app.history.desk import open_desk
    from app.store import open_store

    return open_desk(place.history_url), ClipFiles(open_store(place.store_address))


def measure_order(order: Order, *, desk: Desk, files: ClipFiles, measuring: Any = None) -> None:
    """Measure one clip and keep what came of it, then draw its pictures."""
    from app.measuring import real_measuring

    try:
        with files.local_clip(order.clip_sha256) as clip:
            _measure(order, clip, measuring or real_measuring(), desk=desk, files=files)
    except NobodyWaits:
        pass
    except (UnreadableClip, NothingToMeasure, StoreFailed) as error:
        desk.jobs.refuse(order, message=error.seen, hint=error.remedy, now=_now())
    clear_ownerless(order, desk=desk, files=files)


def clear_ownerless(order: Order, *, desk: Desk, files: ClipFiles) -> None:
    """Delete a clip's files where everybody whose clip it was is gone meanwhile."""
    if not desk.reviews.list_owners(order.clip_sha256):
        files.delete(order.clip_sha256)


def _measure(order: Order, clip: Path, acts: Any, *, desk: Desk, files: ClipFiles) -> None:
    with drawing_folder() as folder:
        request = _request(order, clip, folder)
        analysis = acts.analyse(request, progress=_news(desk.jobs, order))
        kept = insist(lambda: desk.jobs.finish(order, analysis.report, now=_now()))
        if kept is None:
            return
        slow = analysis.report.time_base.file_s_per_s
        times = [time_s * slow for time_s in analysis.frame_time_s]
        with suppress(FlightmarkError, OSError):  # numbers stand without pictures
            files.keep_frame_times(order.clip_sha256, times)
            files.keep_stills(order.clip_sha256, acts.write_stills(analysis, folder))
            acts.annotate(analysis, folder / "annotated.mp4")
            files.keep_annotated(order.clip_sha256, folder / "annotated.mp4")


def _request(order: Order, clip: Path, folder: Path) -> Any:
    from measure.request import ClipRequest, Reference

    setup = order.setup or {}
    reference = setup.get("reference")
    lane = folder / "lane.json" if "marks" in setup else None
    if lane is not None:
        lane.write_text(json.dumps(setup), encoding="utf-8")
    return ClipRequest(
        path=clip,
        exercise=order.exercise,
        stature_m=order.stature_m,
        sex=order.sex,  # type: ignore[arg-type]
        reference=None if reference is None else Reference(
            tuple(reference["first_px"]), tuple(reference["second_px"]), reference["length_m"]
        ),
        lane=lane,
    )  # fmt: skip


def _news(jobs: ClipJobs, order: Order) -> Callable[[str, float], None]:
    """Tell the database how far an analysis is, not more often than a page looks."""
    told_at = 0.0

    def tell(step: str, part: float) -> None:
        nonlocal told_at
        if time.monotonic() - told_at < SHORTEST_NEWS_S:
            return
        told_at = time.monotonic()
        with suppress(HistoryFailed):  # the database is away for a moment; measuring goes on
            if not jobs.tell_progress(order, step, part):
                raise NobodyWaits

    return tell


def _now() -> datetime:
    return datetime.now(UTC)
