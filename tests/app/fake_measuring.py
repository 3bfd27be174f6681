"""Measures nothing, quickly: workers import it by name. The clip's text says what comes of it."""

from __future__ import annotations

import hashlib
import os
import time
from types import SimpleNamespace
from typing import Any

import numpy as np

from app.measuring import Measuring
from measure.errors import NothingToMeasure, UnreadableClip
from measure.report import Versions
from measure.types import Landmark, PoseTrack
from tests.app.reports import a_jump, a_report

VERSIONS = Versions("0.1.0", "pose landmarks, full", "ab" * 32)


def analyse(request: Any, *, progress: Any) -> Any:
    text = request.path.read_text()
    progress("poses", 0.5)
    time.sleep(float(os.environ.get("FAKE_ANALYSIS_S", "0")))
    if "unreadable" in text:
        raise UnreadableClip("That is no film.", "Send the phone's own file.")
    if "nobody" in text:
        raise NothingToMeasure("Nobody is seen.", "Film somebody.")
    if "fault" in text:
        raise RuntimeError("a fault of the program")
    if "deadly" in text:
        os._exit(9)
    digest = hashlib.sha256(text.encode()).hexdigest()
    jumps = [] if "still" in text else [a_jump(height_m=0.2 + int(digest[:3], 16) / 40960)]
    if request.stature_m is not None:
        jumps = [a_jump(height_m=0.1 + jump.height_m) for jump in jumps]
    report = a_report(*jumps, content=text, exercise=request.exercise, versions=versions())
    if "FAKE_CHANGES" in os.environ:
        jumps = [a_jump(height_m=jump.height_m + 0.05) for jump in jumps if "three" not in text]
        report = a_report(*jumps, content=text, exercise=request.exercise, versions=versions())
    rows, points = 3, len(Landmark)
    track = PoseTrack(
        np.arange(rows), np.arange(rows) / 60, np.full((rows, points, 2), len(text) + 0.5),
        np.ones((rows, points)), np.zeros((rows, points, 3)), 1280, 720,
    )  # fmt: skip
    return SimpleNamespace(report=report, track=track)


def versions() -> Versions:
    return Versions(os.environ.get("FAKE_VERSION", "0.1.0"), *(
        VERSIONS.pose_model, VERSIONS.settings_sha256
    ))  # fmt: skip


def unused(*_: Any, **__: Any) -> Any:
    raise AssertionError("not asked for")


MEASURING = Measuring(analyse, unused, unused, versions)
