"""Errors of the jump measurements against clips whose truth is known.

``python -m tests.truth.jumps FOLDER`` analyses every jump clip of a folder of drawn clips (a clip
``NAME.mp4`` with its truth ``NAME.json``) and prints errors by capture rate, one line for every
clip that was refused, missed or invented a jump. Folders without truth files count as clips in
which nothing may be found.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from measure.analyse import ClipRequest, analyse_clip
from measure.errors import FlightmarkError
from measure.report import JumpReport, Report

SAME_JUMP_S = 0.15
LANE_EXERCISES = ("sprint", "shuffle_sprint")


@dataclass(frozen=True)
class Errors:
    """One jump's errors (measured minus true) and the sigmas that were stated."""

    rate_hz: int
    exercise: str
    values: dict[str, tuple[float, float]]


@dataclass
class ClipOutcome:
    """What came of one clip."""

    name: str
    rate_hz: int
    exercise: str
    errors: list[Errors] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def list_clips(folder: Path) -> list[Path]:
    """Jump clips of a folder, in order of their names."""
    return [
        path
        for path in sorted(folder.glob("*.mp4"))
        if _truth(path).get("exercise") not in LANE_EXERCISES
    ]


def _truth(path: Path) -> dict[str, Any]:
    file = path.with_suffix(".json")
    return json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def compare_clip(path: Path) -> ClipOutcome:
    """Analyse one clip and compare it with its truth."""
    truth = _truth(path)
    file_facts = truth.get("file") if isinstance(truth.get("file"), dict) else {}
    outcome = ClipOutcome(
        path.stem, int(file_facts.get("capture_rate_hz", 0)), truth.get("exercise", "")
    )
    try:
        report = analyse_clip(
            ClipRequest(path, stature_m=truth.get("athlete", {}).get("stature_m"))
        ).report
    except FlightmarkError as error:
        outcome.remarks.append(f"not measured: {error}")
        return outcome
    slow = file_facts.get("file_s_per_s", 1.0)
    if report.time_base.status == "refused":
        outcome.remarks.append(f"clock refused: {report.refusals[0].reason}")
    elif abs(report.time_base.file_s_per_s / slow - 1) > 0.01:
        outcome.remarks.append(f"CLOCK WRONG: {report.time_base.file_s_per_s} for {slow}")
    _compare_jumps(outcome, report, truth)
    return outcome


def _compare_jumps(outcome: ClipOutcome, report: Report, truth: dict[str, Any]) -> None:
    left = list(report.jumps)
    may_measure = truth.get("measurable", False)
    for true in truth.get("jumps", []) if may_measure else []:
        near = [jump for jump in left if abs(jump.take_off_s - true["take_off_s"]) < SAME_JUMP_S]
        if not near:
            reasons = "; ".join(f"{one.what}: {one.reason}" for one in report.refusals)
            outcome.remarks.append(f"jump at {true['take_off_s']:.2f} s not measured ({reasons})")
            continue
        left.remove(near[0])
        values = dict(_errors(near[0], true))
        outcome.errors.append(Errors(outcome.rate_hz, outcome.exercise, values))
    for jump in left:
        outcome.remarks.append(f"INVENTED a jump at {jump.take_off_s:.2f} s")


def _errors(jump: JumpReport, true: dict[str, Any]) -> Iterable[tuple[str, tuple[float, float]]]:
    for name, sigma_name in (
        ("take_off_s", "take_off_sigma_s"),
        ("landing_s", "landing_sigma_s"),
        ("flight_time_s", "flight_time_sigma_s"),
        ("height_m", "height_sigma_m"),
        ("height_com_m", "height_com_sigma_m"),
        ("height_standing_m", "height_standing_sigma_m"),
        ("contact_time_s", "contact_time_sigma_s"),
        ("rsi_mps", "rsi_sigma_mps"),
    ):
        measured, expected = getattr(jump, name), true.get(name)
        if measured is not None and expected is not None:
            yield name, (measured - expected, getattr(jump, sigma_name))


def print_table(outcomes: Sequence[ClipOutcome]) -> None:
    """Print errors by exercise group and capture rate, then the remarks."""
    groups: dict[str, list[Errors]] = defaultdict(list)
    for outcome in outcomes:
        kind = "vertical" if outcome.exercise == "vertical" else "other jumps"
        for error in outcome.errors:
            groups[kind].append(error)
    for kind, errors in groups.items():
        print(f"\n{kind}: {len(errors)} jumps")
        for rate_hz in sorted({error.rate_hz for error in errors}, reverse=True):
            _print_rate(f"{rate_hz}/s", [one for one in errors if one.rate_hz == rate_hz])
        _print_rate("all", errors)
    everything = [error for errors in groups.values() for error in errors]
    if everything:
        print(f"\nall together: {len(everything)} jumps")
        _print_rate("all", everything)
    print("\nremarks")
    for outcome in outcomes:
        for remark in outcome.remarks:
            print(f"  {outcome.name}: {remark}")


def _print_rate(title: str, errors: Sequence[Errors]) -> None:
    print(f"  {title}")
    rows = {
        name: np.array([one.values[name] for one in errors if name in one.values])
        for name in dict.fromkeys(name for error in errors for name in error.values)
    }
    rows["both instants_s"] = np.concatenate([rows["take_off_s"], rows["landing_s"]])
    for name, pairs in rows.items():
        unit, factor = ("ms", 1e3) if name.endswith("_s") else ("cm", 1e2)
        if name.endswith("_mps"):
            unit, factor = "m/s", 1.0
        error, sigma = pairs.T * factor
        print(
            f"    {name:18s} n {len(error):3d}  median {np.median(np.abs(error)):5.2f}  "
            f"RMS {np.sqrt((error**2).mean()):5.2f}  worst {np.abs(error).max():6.2f}  "
            f"bias {error.mean():+5.2f}  SD {error.std():5.2f} {unit}  "
            f"error/sigma {np.sqrt(((error / sigma) ** 2).mean()):.2f}"
        )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the comparison from the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.truth.jumps", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--only", default="", help="clips whose name contains this")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    asked = parser.parse_args(arguments)
    clips = [path for folder in asked.folders for path in list_clips(folder)]
    clips = [path for path in clips if asked.only in path.stem]
    with ProcessPoolExecutor(asked.jobs) as pool:
        outcomes = list(pool.map(compare_clip, clips))
    print_table(outcomes)


if __name__ == "__main__":
    main()
