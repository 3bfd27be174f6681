"""One uploaded clip measured on a worker: how far it is, what came of it, its pictures.

A worker writes to the database itself, so that a page sees the number before the pictures are
drawn, and asks it whether anybody still waits, so that stopping takes a moment only.
"""

from __future__ import annotations

import functools
import json
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.clip_files import ClipFiles, drawing_folder
from app.errors import HistoryFailed, StoreFailed
from app.history.clip_jobs import ClipJobs
from app.history.clip_orders import Order
from app.jobs.batch import insist
from measure.errors import FlightmarkError, NothingToMeasure, UnreadableClip

if TYPE_CHECKING:
    from app.history.desk import Desk
    from measure.analyse import Analysis

SHORTEST_NEWS_S = 0.4
NOT_FETCHED = (
    "The clip can’t be had from where clips are kept.",
    "Send it again; if that does not help, tell whoever runs this.",
)


class NobodyWaits(Exception):
    """The clip was stopped by hand, or its athlete is gone."""


@dataclass(frozen=True)
class Place:
    """What a worker needs to reach."""

    history_url: str
    store_address: str


def measure_upload(order: Order, place: Place) -> Analysis | None:
    """Measure the clip of an order and keep its numbers: a worker's first task of two.

    Returns
    -------
    Analysis or None
        What is to be drawn; it stays on the worker.
    """
    desk, files = _open(place)
    return measure_order(order, desk=desk, files=files)


def draw_upload(analysis: Analysis | None, order: Order, place: Place) -> None:
    """Draw and keep the pictures of a measured clip: the second task, when no clip waits."""
    desk, files = _open(place)
    draw_order(order, analysis, desk=desk, files=files)


@functools.cache
def _open(place: Place) -> tuple[Desk, ClipFiles]:
    """Open what a worker uses again and again, once in its process."""
    from app.history.desk import open_desk
    from app.store import open_store

    return open_desk(place.history_url), ClipFiles(open_store(place.store_address))


def measure_order(
    order: Order, *, desk: Desk, files: ClipFiles, measuring: Any = None
) -> Analysis | None:
    """Measure one clip and keep its numbers; give what is to be drawn, None where nothing is."""
    from app.measuring import real_measuring

    analysis = None
    try:
        with files.local_clip(order.clip_sha256) as clip:
            analysis = _measure(order, clip, measuring or real_measuring(), desk.jobs)
        if analysis is not None:
            slow = analysis.report.time_base.file_s_per_s
            times = [time_s * slow for time_s in analysis.frame_time_s]
            with suppress(StoreFailed):  # numbers stand without pictures
                files.forget_drawing(order.clip_sha256)  # of an earlier result
                files.keep_frame_times(order.clip_sha256, times)
    except NobodyWaits:
        pass
    except StoreFailed as error:
        print(f"flightmark: {error}", file=sys.stderr)  # the sender need not know the place
        desk.jobs.refuse(order, message=NOT_FETCHED[0], hint=NOT_FETCHED[1], now=_now())
    except (UnreadableClip, NothingToMeasure) as error:
        # The sender knows no name of the store.
        message = error.seen.replace(order.clip_sha256, "The file")
        desk.jobs.refuse(order, message=message, hint=error.remedy, now=_now())
    clear_ownerless(order, desk=desk, files=files)
    return analysis


def draw_order(
    order: Order, analysis: Analysis | None, *, desk: Desk, files: ClipFiles, measuring: Any = None
) -> None:
    """Draw what was measured and keep the pictures and the film; numbers stand without them."""
    from app.measuring import real_measuring

    acts = measuring or real_measuring()
    if analysis is not None:
        with (
            suppress(FlightmarkError, OSError), drawing_folder() as folder,
            files.local_clip(order.clip_sha256) as clip,
        ):  # fmt: skip
            here = replace(analysis, request=replace(analysis.request, path=clip))
            files.keep_stills(order.clip_sha256, acts.write_stills(here, folder))
            acts.annotate(here, folder / "annotated.mp4")
            files.keep_annotated(order.clip_sha256, folder / "annotated.mp4")
    clear_ownerless(order, desk=desk, files=files)


def redraw_upload(order: Order, report: dict[str, Any], place: Place) -> None:
    """Draw a clip that was measured and isn't drawn, with the numbers that are kept of it."""
    desk, files = _open(place)
    redraw_order(order, report, desk=desk, files=files)


def redraw_order(
    order: Order, report: dict[str, Any], *, desk: Desk, files: ClipFiles, measuring: Any = None
) -> None:
    """Look at a clip once more and draw what is kept of it, events moved by hand too.

    Nothing is drawn where its clock is told otherwise today: kept moments would lie elsewhere.
    """
    from app.history.review_mapping import reviewed_from_json
    from app.measuring import real_measuring

    acts = measuring or real_measuring()
    asked = replace(order, exercise=report.get("exercise"))
    with suppress(UnreadableClip, NothingToMeasure, StoreFailed), drawing_folder() as folder:
        with files.local_clip(order.clip_sha256) as clip:
            analysis: Analysis = acts.analyse(request_of(asked, clip, folder))
        seen = analysis.report
        if seen.time_base.file_s_per_s != report["time_base"]["file_s_per_s"]:
            return
        kept = reviewed_from_json(report)
        shown = replace(seen, jumps=kept.jumps, contacts=kept.contacts, sprint=kept.sprint)
        draw_order(order, replace(analysis, report=shown), desk=desk, files=files, measuring=acts)


def clear_ownerless(order: Order, *, desk: Desk, files: ClipFiles) -> None:
    """Delete a clip's files where everybody whose clip it was is gone meanwhile."""
    if not desk.reviews.list_owners(order.clip_sha256):
        files.delete(order.clip_sha256)


def _measure(order: Order, clip: Path, acts: Any, jobs: ClipJobs) -> Analysis | None:
    with drawing_folder() as folder:
        request = request_of(order, clip, folder)
        analysis: Analysis = acts.analyse(request, progress=_news(jobs, order))
    kept = insist(lambda: jobs.finish(order, analysis.report, now=_now()))
    return None if kept is None else analysis


def request_of(order: Order, clip: Path, folder: Path) -> Any:
    """Give what is asked of a clip; a lane file is written into the folder."""
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
        mass_kg=order.mass_kg,
        start_foot=order.start_foot,
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
