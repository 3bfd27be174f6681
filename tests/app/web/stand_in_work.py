"""Stands in for measuring on a worker; imports little: every worker that starts imports it."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.clip_files import ClipFiles
from app.history.clip_orders import Order
from app.history.desk import open_desk
from app.jobs.clip_work import Place
from app.store import open_store
from tests.app.reports import a_jump, a_report


def act_by_exercise(order: Order, place: Place) -> int:
    """Stand in for measuring: the exercise says what happens on the worker."""
    mark = Path(place.store_address) / f"died{order.job_id}"
    if order.exercise == "sprint":  # never ends and never listens
        time.sleep(600)
    if order.exercise == "turn_jump" or (order.exercise == "drop_hops" and not mark.exists()):
        mark.touch()
        os._exit(9)
    desk = open_desk(place.history_url)
    desk.jobs.tell_progress(order, "poses", 0.5)
    report = a_report(a_jump(), content=f"clip {order.job_id}")
    desk.jobs.finish(order, report, now=datetime.now(UTC))
    return order.job_id


def draw_a_mark(job_id: int, order: Order, place: Place) -> None:
    """Stand in for drawing."""
    (Path(place.store_address) / f"drawn{job_id}").touch()


def draw_anew(order: Order, report: dict[str, Any], place: Place) -> None:
    """Stand in for drawing of what only the numbers are kept; of drop hops none succeeds."""
    with open(Path(place.store_address) / f"tries{report['exercise']}", "a") as tries:
        tries.write("x")
    if report["exercise"] != "drop_hops":
        film = Path(place.store_address) / "film.mp4"
        film.write_text(f"drawn with {len(report['jumps'])} jump")
        ClipFiles(open_store(place.store_address)).keep_annotated(order.clip_sha256, film)
