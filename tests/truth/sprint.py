"""Sprint times against the truth of drawn clips.

Run from the checkout: ``python -m tests.truth.sprint ../shared/clips``.
"""

from __future__ import annotations

import json
import sys
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np

from calibration.lane import fit_lane
from calibration.lane_values import Lane
from calibration.values import TimeBase
from measure.io.lane_file import load_lane
from measure.io.pose_landmarks import BundledPose
from measure.io.read import open_clip
from measure.io.sprint_run import RunFacts, SprintOutcome, analyse_sprint
from measure.report import SprintReport

Errors = dict[str, list[tuple[float, float]]]
"""Error and stated sigma by quantity."""


def main(folder: Path) -> int:
    """Measure every clip with a lane and print its errors and the summary."""
    model = BundledPose()
    errors: Errors = defaultdict(list)
    failed = 0
    for lane_path in sorted(folder.glob("*.lane.json")):
        name = lane_path.name.removesuffix(".lane.json")
        truth = json.loads((folder / f"{name}.json").read_text())
        began_s = time.process_time()
        outcome = _measure(folder / f"{name}.mp4", lane_path, truth, model)
        spent_s = time.process_time() - began_s
        frames = truth["file"]["frames"]
        print(f"{name}: {1000 * spent_s / frames:.1f} ms of CPU for each of {frames} frames")
        for refusal in outcome.refusals:
            print(f"  not measured: {refusal.what}: {refusal.reason}")
        if outcome.report is None:
            failed += 1
            continue
        _compare(outcome.report, truth["sprint"], errors, truth["file"]["capture_rate_hz"])
    _summarise(errors)
    return failed


def _measure(
    clip_path: Path, lane_path: Path, truth: dict[str, Any], model: BundledPose
) -> SprintOutcome:
    facts = truth["file"]
    lane = fit_lane(
        load_lane(lane_path), width_px=facts["width_px"], height_px=facts["height_px"]
    )
    assert isinstance(lane, Lane), lane
    clock = TimeBase("as_filed", facts["capture_rate_hz"], facts["file_s_per_s"], ())
    with open_clip(clip_path) as clip:
        facts = RunFacts(turns=truth["exercise"] == "shuffle_sprint")
        return analyse_sprint(clip, model, lane, time_base=clock, facts=facts)


def _compare(report: SprintReport, truth: dict[str, Any], errors: Errors, rate_hz: float) -> None:
    found: Errors = defaultdict(list)
    true_s = {mark["distance_m"]: mark["time_s"] for mark in truth["marks"]}
    turn_end_s = truth.get("turn_end_s", 0.0)
    turn_from_s = truth.get("turn_start_s", np.inf) - 0.2
    for mark in report.marks:
        inside_turn = turn_from_s < mark.time_s < turn_end_s
        name = "mark inside the turn, ms" if inside_turn else "marks, ms"
        error_s = mark.time_s - true_s[mark.distance_m]
        found[name].append((1e3 * error_s, 1e3 * mark.time_sigma_s))
    for split in report.splits:
        if split.from_m is not None:
            error_s = split.time_s - (true_s[split.to_m] - true_s[split.from_m])
            inside_turn = turn_from_s < true_s[split.from_m] < turn_end_s
            name = "split out of the turn, ms" if inside_turn else "splits, ms"
            found[name].append((1e3 * error_s, 1e3 * split.time_sigma_s))
    if report.start_s is not None and report.start_sigma_s is not None:
        name = "start at 60/s and more, ms" if rate_hz >= 60 else "start at 30/s, ms"
        found[name].append((1e3 * (report.start_s - truth["start_s"]), 1e3 * report.start_sigma_s))
    if report.turn is not None:
        turn = report.turn
        found["turn start, ms"].append(
            (1e3 * (turn.start_s - truth["turn_start_s"]), 1e3 * turn.start_sigma_s)
        )
        found["turn end, ms"].append((1e3 * (turn.end_s - turn_end_s), 1e3 * turn.end_sigma_s))
    if report.max_speed_mps is not None and report.max_speed_sigma_mps is not None:
        error_mps = report.max_speed_mps - truth["max_speed_mps"]
        scale = 100 / truth["max_speed_mps"]
        found["top speed, %"].append((scale * error_mps, scale * report.max_speed_sigma_mps))
    if report.time_constant_s is not None and report.time_constant_sigma_s is not None:
        error_s = report.time_constant_s - truth["time_constant_s"]
        found["time constant, ms"].append((1e3 * error_s, 1e3 * report.time_constant_sigma_s))
    _tell_sides(report, truth)
    _compare_steps(report, truth, found)
    for name, values in found.items():
        print(f"  {name}: " + ", ".join(f"{error:+.2f} ± {sigma:.2f}" for error, sigma in values))
        errors[name] += values


def _tell_sides(report: SprintReport, truth: dict[str, Any]) -> None:
    if report.start_foot_chance is not None:
        word = "right" if report.start_foot == _true_front(truth) else "WRONG"
        print(f"  foot in front: {word}, with a chance of {report.start_foot_chance:.2f}")
    if report.turn is not None and "turn_side" in truth:
        word = "right" if report.turn.side == truth["turn_side"] else "WRONG"
        print(f"  side of the turn: {word}")


def _true_front(truth: dict[str, Any]) -> str:
    """Said, or the foot of the set position that leaves last."""
    sets = [step for step in truth["steps"] if step["kind"] == "set"]
    return truth.get("front_foot") or max(sets, key=lambda step: step["contact_end_s"])["foot"]


def _compare_steps(report: SprintReport, truth: dict[str, Any], found: Errors) -> None:
    if report.step_frequency_hz is not None and report.step_frequency_sigma_hz is not None:
        error_hz = report.step_frequency_hz - _true_frequency_hz(truth)
        found["step frequency, Hz"].append((error_hz, report.step_frequency_sigma_hz))
    if report.contact_time_s is not None and report.contact_time_sigma_s is not None:
        error_s = report.contact_time_s - _true_contact_s(report, truth)
        found["contact time, ms"].append((1e3 * error_s, 1e3 * report.contact_time_sigma_s))


def _true_frequency_hz(truth: dict[str, Any]) -> float:
    """Of the steps that touch the ground between the start, or the turn, and the last mark."""
    from_s = truth.get("turn_end_s", truth["start_s"]) - 0.05
    touches_s = [
        step["contact_start_s"]
        for step in truth["steps"]
        if step["kind"] == "sprint" and step["contact_start_s"]
        and from_s <= step["contact_start_s"] <= truth["marks"][-1]["time_s"]
    ]  # fmt: skip
    return (len(touches_s) - 1) / (touches_s[-1] - touches_s[0])


def _true_contact_s(report: SprintReport, truth: dict[str, Any]) -> float:
    """Median of the same steps."""
    lengths_s = []
    for stand in report.step_contacts:
        for step in truth["steps"]:
            ends_s = step["contact_start_s"], step["contact_end_s"]
            if None not in ends_s and ends_s[0] < (stand.start_s + stand.end_s) / 2 < ends_s[1]:
                lengths_s.append(ends_s[1] - ends_s[0])
    return float(np.median(lengths_s))


def _summarise(errors: Errors) -> None:
    print("\nquantity: count, median of |error|, root mean square, worst, rms(error / sigma)")
    for name, pairs in errors.items():
        error, sigma = np.array(pairs).T
        print(
            f"{name}: {error.size}, {np.median(np.abs(error)):.2f}, "
            f"{np.sqrt(np.mean(error**2)):.2f}, {np.abs(error).max():.2f}, "
            f"{np.sqrt(np.mean((error / sigma) ** 2)):.2f}"
        )


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
