"""The drawn clips with truth: every frame at its time, upright, whole."""

import json

import numpy as np
import pytest

from measure.io.changes import measure_changes
from measure.io.read import open_clip

pytestmark = pytest.mark.clips


def faults_of(truth_path):
    """What a clip's file facts and stamps say otherwise than its truth."""
    file = json.loads(truth_path.read_text())["file"]
    with open_clip(truth_path.with_suffix(".mp4")) as clip:
        stream, stamps, ended_early = clip.stream, clip.stamps, clip.ended_early
    with np.load(truth_path.with_suffix(".npz")) as drawn:
        real_s = drawn["time_s"] if "time_s" in drawn else drawn["capture_t"]
    expected_s = (real_s - real_s[0]) * file["file_s_per_s"]
    checks = {
        "count": stamps.frame_count == file["frames"],
        "size": (stream.width_px, stream.height_px) == (file["width_px"], file["height_px"]),
        "turn": stream.rotation_deg == file["rotation_deg"],
        "whole": not ended_early,
        "times": np.allclose(stamps.file_time_s, expected_s, rtol=0, atol=1e-4),
        "evenness": stamps.constant_rate is not file["variable_rate"],
        "rate": file["variable_rate"]
        or np.isclose(1 / stamps.usual_interval_s, file["container_rate_hz"], rtol=1e-6),
        "missing": file["variable_rate"] or stamps.missing_frame_count == 0,
    }
    return [f"{truth_path.stem}: {name}" for name, right in checks.items() if not right]


def test_every_clip_is_read_as_it_was_drawn(shared_clips):
    truth_paths = [
        path for path in sorted(shared_clips.glob("*.json")) if not path.stem.endswith(".lane")
    ]
    assert len(truth_paths) > 30
    assert [fault for path in truth_paths for fault in faults_of(path)] == []


def test_a_turned_clip_shows_the_shoes_where_they_were_drawn(shared_clips):
    # The shoes of this clip are orange on a floor of wood; elsewhere nothing is so saturated.
    path = shared_clips / "vertical_portrait_60.mp4"
    with np.load(path.with_suffix(".npz")) as drawn:
        names = [str(name) for name in drawn["joints"]]
        toes = [names.index(name) for name in names if "toe" in name]
        toe_px = drawn["px"][72, toes].mean(axis=0)
    with open_clip(path) as clip:
        frame = next(clip.frames(wanted=[72]))
    x, y = np.rint(toe_px).astype(int)
    shoe = frame.rgb_box(x - 10, y - 10, x + 10, y + 10).astype(int)
    assert shoe[..., 0].max() - shoe[..., 2].min() > 150
    small = frame.grey_small(8)
    assert small.shape == (160, 90)


def test_no_drawn_clip_repeats_its_pictures(shared_clips):
    with open_clip(shared_clips / "vertical_side_60.mp4") as clip:
        changes = measure_changes(frame.grey_small(4) for frame in clip.frames())
    assert changes.motion_level.min() > 0
