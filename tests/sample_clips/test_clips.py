"""Drawn clips on a small picture, and the truth that lies beside them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

import sample_clips
from sample_clips.camera import Camera, turns
from sample_clips.catalogue import ENTRIES, Entry, sample_scenario, write_schedule
from sample_clips.chance import draw_scenario
from sample_clips.curves import GRAVITY_MPS2
from sample_clips.film import Recording
from sample_clips.picture import draw_picture
from sample_clips.scenario import Scenario, shot_of, truth_of, write_clip
from sample_clips.truth import JOINTS, joint_pixels

TEAM = Path(sample_clips.__file__).parent / "team"


def small(scenario: Scenario, **recording: Any) -> Scenario:
    """The scenario seen by a camera of a fifth of the pixels, still."""
    camera = scenario.camera
    camera = replace(
        camera, width_px=camera.width_px // 5, height_px=camera.height_px // 5, shake_rad=0.0
    )
    changed = replace(scenario.recording, **recording)
    return replace(scenario, camera=camera, recording=changed, lens_blur_px=0.0)


@pytest.fixture(scope="module")
def front_scenario() -> Scenario:
    seed = next(s for s in range(50) if draw_scenario("vertical", s).view == "front")
    return draw_scenario("vertical", seed)


def test_joints_lie_inside_what_is_drawn(front_scenario: Scenario) -> None:
    scenario = small(front_scenario)
    shot = shot_of(scenario)
    white = replace(
        shot,
        backdrop=np.full_like(shot.backdrop, 255),
        place=replace(shot.place, shadow=0.0, brightness=0.35),
        exposure_s=1e-6,
    )
    leave_s, land_s = scenario.motion.flights_s[0]
    for time_s in (0.3, leave_s - 0.2, (leave_s + land_s) / 2, land_s + 0.1):
        picture = draw_picture(white, time_s)
        pixels = joint_pixels(scenario.motion, scenario.camera, np.array([time_s]))[0]
        inside = [n for n in JOINTS if not n.startswith(("eye", "nose", "ear"))]
        for name in inside:
            x, y = pixels[JOINTS.index(name)].astype(int)
            assert picture[y, x].min() < 200, name


def test_a_still_camera_and_an_empty_place_do_not_move(front_scenario: Scenario) -> None:
    scenario = small(front_scenario)
    shot = shot_of(scenario)
    first, later = draw_picture(shot, 0.2), draw_picture(shot, 1.2)
    assert np.array_equal(first[:, :20], later[:, :20])
    assert not np.array_equal(first, later)


def test_truth_is_complete(front_scenario: Scenario) -> None:
    truth = truth_of(front_scenario, 100)
    assert set(truth) >= {"name", "exercise", "view", "measurable", "file", "athlete", "camera",
                          "contacts", "jumps"}  # fmt: skip
    assert set(truth["file"]) == {"container_rate_hz", "capture_rate_hz", "file_s_per_s",
                                  "variable_rate", "rotation_deg", "width_px", "height_px",
                                  "frames"}  # fmt: skip
    jump = truth["jumps"][0]
    height_m = GRAVITY_MPS2 * jump["flight_time_s"] ** 2 / 8
    assert jump["height_m"] == pytest.approx(height_m, abs=1e-6)
    assert jump["landing_s"] - jump["take_off_s"] == pytest.approx(jump["flight_time_s"], abs=2e-6)
    # The centre of mass comes down by its drop more than it rose.
    rise = jump["height_com_m"]
    down_s = np.sqrt(2 * (rise + jump["com_drop_at_landing_m"]) / GRAVITY_MPS2)
    up_s = np.sqrt(2 * rise / GRAVITY_MPS2)
    assert up_s + down_s == pytest.approx(jump["flight_time_s"], abs=1e-5)
    landing = jump["landing"]
    assert set(landing) >= {"knee_flexion_contact_deg", "knee_flexion_peak_deg", "foot_lag_s",
                            "trunk_lean_contact_deg", "trunk_lean_peak_deg", "held_s",
                            "hip_flexion_contact_deg", "frontal_knee_angle_deg", "extra_step",
                            "knee_ankle_separation_ratio"}  # fmt: skip
    for side in ("left", "right"):
        peak = landing["knee_flexion_peak_deg"][side]
        assert peak >= landing["knee_flexion_contact_deg"][side]


def test_hops_have_contact_times() -> None:
    truth = truth_of(draw_scenario("drop_hops", 1), 1)
    assert len(truth["jumps"]) >= 3
    for jump in truth["jumps"]:
        assert 0.12 < jump["contact_time_s"] < 0.35
        assert jump["rsi_mps"] == pytest.approx(jump["height_m"] / jump["contact_time_s"], rel=1e-4)


def test_a_leg_says_which_it_is() -> None:
    scenario = draw_scenario("single_leg_vertical", 1)
    jump = truth_of(scenario, 1)["jumps"][0]
    assert jump["take_off_side"] == jump["landing_side"] != "both"
    assert list(jump["landing"]["knee_flexion_peak_deg"]) == [jump["landing_side"]]


def test_a_turn_is_a_quarter() -> None:
    jump = truth_of(draw_scenario("turn_jump", 1), 1)["jumps"][0]
    assert 65 < abs(jump["turn_deg"]) < 115


@pytest.mark.parametrize(
    ("recording", "file_rate_hz", "slowness", "shown"),
    [
        (Recording(60, 60), 60, 1, 1),
        (Recording(240, 30), 30, 8, 1),
        (Recording(30, 60, repeats=2), 60, 1, 2),
    ],
)
def test_timestamps(recording: Recording, file_rate_hz: float, slowness: float, shown: int) -> None:
    times = recording.capture_times_s(0.5)
    ticks = recording.ticks(times)
    assert len(ticks) == shown * len(times)
    assert np.allclose(np.diff(ticks), 90_000 / file_rate_hz)
    assert recording.file_s_per_s == slowness


def test_a_variable_rate_keeps_true_times() -> None:
    recording = Recording(60, 60, variable_rate=True, seed=3)
    times = recording.capture_times_s(3.0)
    assert np.diff(times).std() > 0.0005
    assert np.allclose(recording.ticks(times) / 90_000, times, atol=1e-5)


def test_a_file_plays_and_asks_for_its_turn(tmp_path: Path) -> None:
    scenario = sample_scenario(next(e for e in ENTRIES if e.recording.rotation_deg == 90))
    leave_s = scenario.motion.flights_s[0][0]
    scenario = replace(
        small(scenario), motion=replace(scenario.motion, end_s=leave_s + 0.05),
        start_s=leave_s - 0.1,
    )  # fmt: skip
    path = write_clip(scenario, tmp_path)
    with av.open(str(path)) as container:
        frames = list(container.decode(video=0))
    truth = json.loads(path.with_suffix(".json").read_text())
    assert (frames[0].width, frames[0].height) == (256, 144)
    assert (truth["file"]["width_px"], truth["file"]["height_px"]) == (144, 256)
    assert frames[0].rotation % 360 == 270
    assert len(frames) == truth["file"]["frames"]
    with np.load(path.with_suffix(".npz")) as joints:
        assert joints["px"].shape == (len(frames), len(JOINTS), 2)


def test_the_hand_turns_about_the_eye() -> None:
    camera = Camera(640, 360, 60, (3, 1, 0), (0, 1, 0), shake_rad=0.01, seed=2)
    times = np.array([0.3])
    assert np.allclose(turns(camera.shake(times))[0] @ turns(camera.shake(times))[0].T, np.eye(3))
    still = replace(camera, shake_rad=0.0)
    places = np.array([[[0.1, 0.4, 0.5], [-1.0, 2.0, -0.4]]])
    shaken, _ = camera.project(places, times)
    straight, _ = still.project(places, times)
    mapped = np.concatenate([straight[0], np.ones((2, 1))], 1) @ camera.picture_turn(0.3).T
    assert np.allclose(mapped[:, :2] / mapped[:, 2:], shaken[0], atol=1e-9)


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.name)
def test_the_programs_truth_is_the_one_beside_the_clip(entry: Entry) -> None:
    kept = json.loads((TEAM / f"{entry.name}.json").read_text(encoding="utf-8"))
    assert (TEAM / f"{entry.name}.mp4").stat().st_size > 20_000
    told = truth_of(sample_scenario(entry), kept["file"]["frames"])
    for found, expected in zip(leaves(told), leaves(kept), strict=True):
        is_number = isinstance(expected, float)
        assert found == (pytest.approx(expected, rel=1e-3, abs=1e-3) if is_number else expected)


def leaves(value: Any) -> list[Any]:
    """Everything in a JSON value that holds nothing else, by order of keys."""
    if isinstance(value, dict):
        return [leaf for key in sorted(value) for leaf in [key, *leaves(value[key])]]
    if isinstance(value, list):
        return [leaf for each in value for leaf in leaves(each)]
    return [value]


def test_every_clip_is_in_the_schedule(tmp_path: Path) -> None:
    kept = json.loads((TEAM / "schedule.json").read_text(encoding="utf-8"))
    assert json.loads(write_schedule(tmp_path).read_text(encoding="utf-8")) == kept
    names = [visit["clip"] for visit in kept["visits"]]
    assert sorted(names) == sorted(path.stem for path in TEAM.glob("*.mp4"))


def test_cut_feet_are_outside_the_picture() -> None:
    entry = next(e for e in ENTRIES if e.feet_cut)
    scenario = sample_scenario(entry)
    pixels = joint_pixels(scenario.motion, scenario.camera, np.array([0.3]))[0]
    for name in ("toe.L", "toe.R", "heel.L", "heel.R"):
        assert pixels[JOINTS.index(name), 1] > scenario.camera.height_px + 5
    assert pixels[JOINTS.index("nose"), 1] > 0
    assert truth_of(scenario, 1)["measurable"] is False
