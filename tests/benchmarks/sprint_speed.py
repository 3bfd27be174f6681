"""How quick runs are timed: ``python -m tests.benchmarks.sprint_speed FOLDER``.

The folder holds clips with their lane files, as ``python -m sample_clips.draw_sprints`` writes
them. On each, by processor time: decoding every picture once with a pose 30 times a second, and
timing the run from file to report. The second should take at most twice as long as the first.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from calibration.lane import fit_lane
from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import TimeBase
from measure.analyse import ClipRequest, analyse_clip
from measure.io.lane_file import load_lane
from measure.io.pose import Region
from measure.io.pose_landmarks import BundledPose
from measure.io.read import open_clip
from measure.io.sprint_run import RunFacts, analyse_sprint

POSE_RATE_HZ = 30.0
CROP_M = 2.8
STEPS = ("decoding and pose", "a run in its lane", "file to report")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.sprint_speed", description=__doc__
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--repeat", type=int, default=2, help="runs of each; the quickest counts")
    asked = parser.parse_args(arguments)
    model = BundledPose()
    sums_s = [0.0, 0.0, 0.0]
    print("processor, s: " + ", ".join(STEPS) + "; over the first")
    for lane_path in sorted(asked.folder.glob("*.lane.json")):
        spent_s = time_clip(lane_path, model, repeat=asked.repeat)
        sums_s = [total + one for total, one in zip(sums_s, spent_s, strict=True)]
        print(f"  {lane_path.name.removesuffix('.lane.json'):20s}{_row(spent_s)}", flush=True)
    print(f"  {'all':20s}{_row(sums_s)}")


def _row(spent_s: Sequence[float]) -> str:
    ratios = "".join(f"{one / spent_s[0]:7.2f}" for one in spent_s[1:])
    return "".join(f"{one:8.2f}" for one in spent_s) + "  " + ratios


def time_clip(lane_path: Path, model: BundledPose, *, repeat: int = 1) -> list[float]:
    """Processor seconds of all three on one clip."""
    name = lane_path.name.removesuffix(".lane.json")
    clip_path = lane_path.with_name(f"{name}.mp4")
    facts = json.loads(lane_path.with_name(f"{name}.json").read_text())
    clock = TimeBase("as_filed", facts["file"]["capture_rate_hz"], 1.0, ())
    turns = facts["exercise"] == "shuffle_sprint"
    with open_clip(clip_path) as clip:
        size = {"width_px": clip.stream.width_px, "height_px": clip.stream.height_px}
    lane = fit_lane(load_lane(lane_path), **size)
    assert isinstance(lane, Lane), lane

    def run() -> None:
        with open_clip(clip_path) as clip:
            analyse_sprint(clip, model, lane, time_base=clock, facts=RunFacts(turns=turns))

    def report() -> None:
        request = ClipRequest(clip_path, exercise=facts["exercise"], lane=lane_path)
        analyse_clip(request, model=model)

    ways = (lambda: decode_with_pose(clip_path, model, lane), run, report)
    return [min(_spent_s(way) for _ in range(repeat)) for way in ways]


def decode_with_pose(clip_path: Path, model: BundledPose, lane: Lane) -> int:
    """Decode all pictures and read a pose in some of them, wherever; gives how many poses."""
    middle = [mark.distance_m for mark in lane.survey.marks][len(lane.survey.marks) // 2]
    centre, above = (
        picture_from_lane(lane, np.array(middle), np.array(height_m)) for height_m in (0.85, 1.85)
    )
    size_px = CROP_M * float(abs(centre[1] - above[1]))
    region = Region((float(centre[0]), float(centre[1])), size_px, 0.0)
    due_s, count = 0.0, 0
    with open_clip(clip_path) as clip:
        for frame in clip.frames():
            if frame.file_time_s >= due_s:
                due_s += 1 / POSE_RATE_HZ
                model.landmarks(frame, region)
                count += 1
    return count


def _spent_s(way: Callable[[], object]) -> float:
    before_s = time.process_time()
    way()
    return time.process_time() - before_s


if __name__ == "__main__":
    main()
