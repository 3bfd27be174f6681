"""Errors of exercise, view, turn and landing measurements against clips whose truth is known.

``python -m tests.truth.landing FOLDER`` analyses every jump clip of a folder of drawn clips (a clip
``NAME.mp4`` with its truth ``NAME.json``) and prints, for each quantity, how many were measured,
bias, root mean square and worst error, and the root mean square of error over stated sigma. With
``--true-events`` the flights and contacts are taken from the truth, so that only what is made of
the poses is judged.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from measure.analyse import ClipRequest, analyse_clip
from measure.errors import FlightmarkError
from measure.movement import JumpMovement, assess_movement
from measure.report import JumpReport
from measure.types import Contact, Flight, Instant, Scale

SAME_LANDING_S = 0.2
TRUE_EVENT_SIGMA_S = 0.002
QUANTITIES = {
    "knee_flexion_contact_deg": 5.0,
    "knee_flexion_peak_deg": 5.0,
    "knee_flexion_change_deg": None,
    "trunk_lean_contact_deg": None,
    "trunk_lean_peak_deg": None,
    "trunk_lean_change_deg": None,
    "hip_flexion_contact_deg": None,
    "frontal_knee_angle_deg": 5.0,
    "knee_ankle_separation_ratio": 0.08,
    "foot_lag_s": 0.012,
    "time_to_steady_s": 0.10,
    "held_s": None,
    "turn_deg": 12.0,
    "contact_time_s": None,
    "rsi_mps": None,
}
"""Quantities of a landing and the root mean square error asked for, where one is."""

OF_JUMPS = ("turn_deg", "contact_time_s", "rsi_mps")
"""Quantities of the jump itself."""


@dataclass(frozen=True)
class Miss:
    """One error, with the sigma that was stated for it."""

    clip: str
    error: float
    sigma: float


@dataclass
class Outcome:
    """What came of one clip."""

    name: str
    misses: dict[str, list[Miss]] = field(default_factory=lambda: defaultdict(list))
    absent: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    remarks: list[str] = field(default_factory=list)


def measure_clip(path: Path, *, true_events: bool) -> Outcome:
    """Analyse one clip and compare it with its truth."""
    truth = json.loads(path.with_suffix(".json").read_text())
    outcome = Outcome(path.stem)
    try:
        seen = _measure(path, truth, true_events=true_events)
    except FlightmarkError as error:
        outcome.remarks.append(f"refused: {error}")
        return outcome
    if not truth["measurable"]:
        outcome.remarks.append(f"{len(seen.jumps)} jumps in a clip meant to be refused")
        return outcome
    for what in ("exercise", "view"):
        if getattr(seen, what) != truth[what]:
            outcome.remarks.append(f"{what} {getattr(seen, what)}, true {truth[what]}")
    for jump in truth["jumps"]:
        found = _find_jump(seen.jumps, jump)
        if found is None:
            outcome.remarks.append(f"no landing at {jump['landing_s']:.2f} s")
        else:
            _compare(found, jump, outcome)
    return outcome


@dataclass(frozen=True)
class _Seen:
    """What a clip gave, from the report or from the truth's own events."""

    view: str | None
    exercise: str | None
    jumps: tuple[JumpReport, ...]


def _measure(path: Path, truth: dict[str, Any], *, true_events: bool) -> _Seen:
    stature_m = truth.get("athlete", {}).get("stature_m")
    analysis = analyse_clip(ClipRequest(path=path, stature_m=stature_m))
    report = analysis.report
    if not true_events:
        return _Seen(report.view, report.exercise, report.jumps)
    m_per_px = truth["camera"].get("m_per_px_at_athlete")
    movement = assess_movement(
        analysis.track, time_s=analysis.time_s,
        flights=[_true_flight(jump) for jump in truth["jumps"] if "take_off_s" in jump],
        contacts=[_true_contact(contact) for contact in truth["contacts"]],
        scale=Scale(m_per_px, 0.02 * m_per_px, "stature") if m_per_px else report.scale,
    )  # fmt: skip
    return _Seen(movement.view, movement.exercise, tuple(map(_as_report, movement.jumps)))


def _as_report(moved: JumpMovement) -> JumpReport:
    flight, turn = moved.seen.flight, moved.turn_deg
    return JumpReport(
        flight.take_off.time_s, flight.take_off.sigma_s, flight.landing.time_s,
        flight.landing.sigma_s, 0.0, 0.0, 0.0, 0.0,
        take_off_side=flight.take_off_side, landing_side=flight.landing_side,
        turn_deg=None if turn is None else turn.value,
        turn_sigma_deg=None if turn is None else turn.sigma, landing=moved.landing,
    )  # fmt: skip


def _true_instant(time_s: float | None) -> Instant | None:
    return None if time_s is None else Instant(time_s, TRUE_EVENT_SIGMA_S)


def _true_contact(contact: dict[str, Any]) -> Contact:
    start, end = _true_instant(contact["start_s"]), _true_instant(contact["end_s"])
    return Contact(contact["foot"], start, end)


def _true_flight(jump: dict[str, Any]) -> Flight:
    return Flight(
        Instant(jump["take_off_s"], TRUE_EVENT_SIGMA_S),
        Instant(jump["landing_s"], TRUE_EVENT_SIGMA_S),
        jump["take_off_side"], jump["landing_side"],
    )  # fmt: skip


def _find_jump(jumps: Iterable[JumpReport], truth: dict[str, Any]) -> JumpReport | None:
    for jump in jumps:
        if abs(jump.landing_s - truth["landing_s"]) < SAME_LANDING_S:
            return jump
    return None


def _compare(found: JumpReport, truth: dict[str, Any], outcome: Outcome) -> None:
    landing = found.landing
    assert landing is not None
    for side in ("take_off_side", "landing_side"):
        if getattr(found, side) != truth[side]:
            outcome.remarks.append(f"{side} {getattr(found, side)}, true {truth[side]}")
    true_numbers = _true_numbers(truth)
    if "extra_step" in true_numbers and landing.extra_step != true_numbers["extra_step"]:
        outcome.remarks.append(
            f"loss of balance {landing.extra_step}, true {true_numbers['extra_step']}"
        )
    for name in QUANTITIES:
        stem, unit = name.rsplit("_", 1)
        of = found if name in OF_JUMPS else landing
        value, sigma = getattr(of, name), getattr(of, f"{stem}_sigma_{unit}")
        for true, measured, doubt in _pairs(true_numbers.get(name), value, sigma):
            if measured is None or doubt is None:
                outcome.absent[name] += 1
            else:
                outcome.misses[name].append(Miss(outcome.name, measured - true, doubt))


def _true_numbers(truth: dict[str, Any]) -> dict[str, Any]:
    numbers = dict(truth.get("landing", {}))
    numbers |= {name: truth[name] for name in OF_JUMPS if name in truth}
    if "trunk_lean_peak_deg" in numbers:
        numbers["trunk_lean_change_deg"] = (
            numbers["trunk_lean_peak_deg"] - numbers["trunk_lean_contact_deg"]
        )
    if "knee_flexion_peak_deg" in numbers:
        numbers["knee_flexion_change_deg"] = {
            foot: peak - numbers["knee_flexion_contact_deg"][foot]
            for foot, peak in numbers["knee_flexion_peak_deg"].items()
        }
    return numbers


def _pairs(true: Any, value: Any, sigma: Any) -> list[tuple[float, Any, Any]]:
    """True number, measured number and its sigma, foot by foot where it has feet."""
    if true is None:
        return []
    if not isinstance(true, dict):
        return [(true, value, sigma)]
    return [(true[foot], (value or {}).get(foot), (sigma or {}).get(foot)) for foot in true]


def print_table(outcomes: Sequence[Outcome]) -> None:
    """Print one line for each quantity, then everything that went wrong."""
    print(f"{'quantity':29}{'n':>4}{'absent':>8}{'bias':>9}{'rmse':>9}{'asked':>8}"
          f"{'worst':>9}  {'err/sigma':>9}  worst clip")  # fmt: skip
    for name, asked in QUANTITIES.items():
        misses = [miss for outcome in outcomes for miss in outcome.misses[name]]
        absent = sum(outcome.absent[name] for outcome in outcomes)
        if not misses:
            print(f"{name:29}{0:4d}{absent:8d}")
            continue
        errors = np.array([miss.error for miss in misses])
        sigmas = np.array([max(miss.sigma, 1e-9) for miss in misses])
        worst = misses[int(np.argmax(np.abs(errors)))]
        wanted = "" if asked is None else f"{asked:.3g}"
        print(f"{name:29}{len(misses):4d}{absent:8d}{errors.mean():9.3f}"
              f"{np.sqrt((errors**2).mean()):9.3f}{wanted:>8}{worst.error:9.3f}"
              f"{np.sqrt(((errors / sigmas) ** 2).mean()):11.2f}  {worst.clip}")  # fmt: skip
    for outcome in outcomes:
        for remark in outcome.remarks:
            print(f"{outcome.name}: {remark}")


def main() -> None:
    """Read the arguments, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--true-events", action="store_true")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--only", default="", help="part of the clips' names")
    options = parser.parse_args()
    clips = [
        path
        for path in sorted(options.folder.glob("*.mp4"))
        if options.only in path.name
        and "sprint" not in json.loads(path.with_suffix(".json").read_text())["exercise"]
    ]
    measure = partial(measure_clip, true_events=options.true_events)
    with ProcessPoolExecutor(options.jobs) as pool:
        print_table(list(pool.map(measure, clips)))


if __name__ == "__main__":
    main()
