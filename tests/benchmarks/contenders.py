"""The runs that are compared, each in a process of its own: ``… contenders WAY CLIP``.

``decode`` takes the pictures out of the file and nothing else. ``plain`` is the way anybody would
begin: the pose model's own Python interface on every frame, in full size. ``least`` is what no
measuring can do without: it decodes, and reads 60 poses a second on all cores, all at one place, so
that none of them has to wait for another. ``stages`` is flightmark with a clock on its steps.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

WAITING_LOOKS = 8
"""Pictures that wait for a pose, at most: they fill the memory."""


def decode(path: Path) -> dict[str, Any]:
    """Decode every picture."""
    import av

    with av.open(str(path)) as container:
        return {"frames": sum(1 for _ in container.decode(video=0))}


def plain(path: Path) -> dict[str, Any]:
    """Read a pose in every picture through the model's Python interface."""
    import av
    from mediapipe.python.solutions.pose import Pose

    frames = seen = 0
    with av.open(str(path)) as container, Pose(model_complexity=1) as pose:
        for frame in container.decode(video=0):
            found = pose.process(frame.to_ndarray(format="rgb24"))
            frames, seen = frames + 1, seen + (found.pose_landmarks is not None)
    return {"frames": frames, "seen": seen}


def least(path: Path) -> dict[str, Any]:
    """Decode every picture and read poses on all cores, for nothing."""
    from app.measuring import ONE_THREAD

    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    from collections import deque
    from concurrent.futures import Future, ThreadPoolExecutor

    from measure.io.athlete import POSE_RATE_HZ
    from measure.io.pose import Region
    from measure.io.pose_landmarks import BundledPose
    from measure.io.read import open_clip

    model, cores = BundledPose(), os.cpu_count() or 1
    waiting: deque[Future[Any]] = deque()
    frames = looks = 0
    with open_clip(path) as clip, ThreadPoolExecutor(cores) as pool:
        every = max(1, round(1 / (POSE_RATE_HZ * clip.stamps.usual_interval_s)))
        for frame in clip.frames():
            frames += 1
            if frame.index % every == 0:
                middle = (frame.width_px / 2, frame.height_px / 2)
                region = Region(middle, 0.8 * min(frame.width_px, frame.height_px))
                waiting.append(pool.submit(model.landmarks, frame, region))
                looks += 1
            while len(waiting) > WAITING_LOOKS:
                waiting.popleft().result()
    return {"frames": frames, "looks": looks}


def stages(path: Path) -> dict[str, Any]:
    """Measure with a clock on each step, then again, and with another stature."""
    started_s = time.perf_counter()
    from app.measuring import ONE_THREAD
    from app.seen import SeenShelf

    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))  # as the command line does
    from measure.analyse import ClipRequest, analyse_clip

    ended_s = {"imports": time.perf_counter()}
    with tempfile.TemporaryDirectory() as folder:
        shelf = SeenShelf(Path(folder))
        analyse_clip(
            ClipRequest(path, stature_m=1.70), processes=2, shelf=shelf,
            progress=lambda step, _part: ended_s.update({step: time.perf_counter()}),
        )  # fmt: skip
        ended_s["report"] = time.perf_counter()
        again_cpu_s = {}
        for what, stature_m in (("unchanged", 1.70), ("other stature", 1.74)):
            before_s = time.process_time()
            analyse_clip(ClipRequest(path, stature_m=stature_m), shelf=shelf)
            again_cpu_s[what] = time.process_time() - before_s
    begun_s = [started_s, *ended_s.values()]
    ends = zip(begun_s, ended_s.items(), strict=False)
    spent_s = {step: end_s - begin_s for begin_s, (step, end_s) in ends}
    return {"stages_s": spent_s, "again_cpu_s": again_cpu_s}


def main(way: str, clip: str) -> None:
    """Run one and print what came of it as JSON."""
    run = {"decode": decode, "plain": plain, "least": least, "stages": stages}[way]
    print(json.dumps(run(Path(clip))))


if __name__ == "__main__":
    main(*sys.argv[1:])
