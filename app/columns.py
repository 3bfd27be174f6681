"""Reports to column values of the history: the only functions that know both sides."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

from app.measured import JUMP_COLUMNS, ColumnValues, Measured, write_json
from app.requests import hash_request


def columns_from_report(measured: Measured) -> ColumnValues:
    """Give the column values of a report, without itself and the keys that tie rows together."""
    report = measured.report
    versions, sprint = report["versions"], report.get("sprint")
    return ColumnValues(
        result={
            "flightmark_version": versions["flightmark"],
            "pose_model": versions["pose_model"],
            "settings_sha256": versions["settings_sha256"],
            "exercise": report.get("exercise"),
            "request_sha256": hash_written(measured.request),
            "track_sha256": measured.track_sha256,
            "created_at": measured.saved_at,
        },
        jumps=[
            {"number": number, **{name: jump.get(name) for name in JUMP_COLUMNS}}
            for number, jump in enumerate(report.get("jumps", ()), start=1)
        ],
        sprint=None if sprint is None else {
            "start_rule": sprint["start_rule"],
            "surface": sprint.get("surface", "unknown"),
            "slope_pct": sprint.get("slope_pct", 0.0),
            "max_speed_mps": sprint.get("max_speed_mps"),
            "max_speed_sigma_mps": sprint.get("max_speed_sigma_mps"),
        },
        splits=[] if sprint is None else [
            {"number": number, "from_m": split.get("from_m"),
             **{name: split[name] for name in ("to_m", "time_s", "time_sigma_s")}}
            for number, split in enumerate(sprint.get("splits", ()), start=1)
        ],
    )  # fmt: skip


def hash_written(request: dict[str, Any] | None) -> str | None:
    """Give what equal requests have in common."""
    return None if request is None else _hash_text(write_json(request))


@lru_cache(maxsize=1000)  # many clips are asked the same
def _hash_text(text: str) -> str:
    return hash_request(json.loads(text))
