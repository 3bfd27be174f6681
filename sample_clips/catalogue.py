"""The clips that come with the package: an invented team over four weeks, each clip from a seed."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sample_clips.body import Body
from sample_clips.camera import Camera
from sample_clips.chance import (
    TRIES,
    draw_camera,
    draw_jump_style,
    drop_hops,
    single_leg_vertical,
    turn_jump,
)
from sample_clips.checks import check_motion
from sample_clips.exercises.stages import CannotMove
from sample_clips.exercises.vertical import jump_vertically
from sample_clips.feet import Meeting
from sample_clips.film import Recording
from sample_clips.look import draw_look
from sample_clips.motion import Motion
from sample_clips.scenario import Scenario
from sample_clips.scene import draw_place


@dataclass(frozen=True)
class Athlete:
    """An invented person."""

    name: str
    body: Body
    look_seed: int
    barefoot: bool = False


ATHLETES = {
    "ilka": Athlete("Ilka Brodin", Body(1.66, "female", 61.0, sole_m=0.024), 11),
    "teo": Athlete("Teo Marchek", Body(1.84, "male", 79.0, sole_m=0.03, girth=1.04), 24),
    "juno": Athlete(
        "Juno Halvard",
        Body(1.47, "female", 39.0, sole_m=0.0, shoe_margin_m=0.0, girth=0.95, head_scale=1.08),
        35,
        barefoot=True,
    ),
}


@dataclass(frozen=True)
class Entry:
    """One clip: who, when, what, and how it was filmed."""

    name: str
    athlete: str
    day: int
    exercise: str
    view: str
    seed: int
    rise_m: float | None
    recording: Recording
    feet_cut: bool = False
    ground: str | None = None
    lost: bool = False


SIXTY = Recording(noise=2.0, crf=26)
THIRTY = replace(SIXTY, capture_rate_hz=30.0, container_rate_hz=30.0, exposure_s=1 / 160)

ENTRIES = (
    Entry("ilka_week1_vertical", "ilka", 0, "vertical", "side", 101, 0.255, SIXTY, ground="planks"),
    Entry("ilka_week2_vertical", "ilka", 8, "vertical", "front", 102, 0.268, SIXTY),
    Entry("ilka_week3_vertical", "ilka", 14, "vertical", "side", 103, 0.272,
          replace(SIXTY, rotation_deg=90)),
    Entry("ilka_week4_vertical", "ilka", 22, "vertical", "side", 104, 0.285, SIXTY, ground="grass"),
    Entry("teo_week1_vertical", "teo", 1, "vertical", "side", 105, 0.365, THIRTY),
    Entry("teo_week2_vertical", "teo", 7, "vertical", "oblique", 106, 0.372,
          replace(SIXTY, variable_rate=True), ground="asphalt"),
    Entry("teo_week4_vertical_slow", "teo", 21, "vertical", "side", 107, 0.39,
          replace(SIXTY, capture_rate_hz=240.0, container_rate_hz=30.0, exposure_s=1 / 500)),
    Entry("juno_week1_vertical", "juno", 2, "vertical", "side", 108, 0.175, SIXTY, ground="carpet"),
    Entry("juno_week2_vertical", "juno", 9, "vertical", "front", 109, 0.182, SIXTY),
    Entry("juno_week4_vertical", "juno", 23, "vertical", "side", 110, 0.195, SIXTY),
    Entry("ilka_week2_drop_hops", "ilka", 8, "drop_hops", "side", 111, None, SIXTY),
    Entry("teo_week2_single_leg", "teo", 7, "single_leg_vertical", "side", 112, None, SIXTY),
    Entry("juno_week3_single_leg_lost", "juno", 16, "single_leg_vertical", "front", 113, None,
          SIXTY, lost=True),
    Entry("teo_week3_turn_jump", "teo", 15, "turn_jump", "front", 114, None, SIXTY),
    Entry("juno_week3_vertical_feet_cut", "juno", 16, "vertical", "side", 115, 0.19, SIXTY,
          feet_cut=True),
)  # fmt: skip


def sample_scenario(entry: Entry) -> Scenario:
    """Make one of the package's clips.

    Raises
    ------
    CannotMove
        The seed leads to no possible motion.
    """
    for attempt in range(TRIES):
        try:
            return _try_sample(entry, np.random.default_rng([entry.seed, attempt]))
        except CannotMove:
            continue
    raise CannotMove(f"{entry.name}: nothing possible in {TRIES} tries")


def _try_sample(entry: Entry, rng: np.random.Generator) -> Scenario:
    athlete = ATHLETES[entry.athlete]
    look = draw_look(np.random.default_rng(athlete.look_seed), barefoot=athlete.barefoot)
    motion = _motion(entry, athlete.body, rng)
    check_motion(motion)
    portrait = entry.recording.rotation_deg in (90, 270)
    camera = replace(draw_camera(rng, motion, view=entry.view, portrait=portrait), shake_rad=0.0)
    return Scenario(
        name=entry.name, exercise=entry.exercise, view=entry.view, motion=motion, look=look,
        place=draw_place(rng, ground=entry.ground),
        camera=_raised(camera) if entry.feet_cut else camera,
        recording=replace(entry.recording, seed=entry.seed), seed=entry.seed,
        refusal="refusal: the feet are outside the picture" if entry.feet_cut else "",
        remark="balance lost: the other foot touches down" if entry.lost else "",
    )  # fmt: skip


def _motion(entry: Entry, body: Body, rng: np.random.Generator) -> Motion:
    if entry.exercise == "vertical":
        style = draw_jump_style(rng, body, rise_m=entry.rise_m)
        meeting = Meeting(float(rng.uniform(0.55, 0.8)), float(rng.uniform(0.0, 0.12)))
        return jump_vertically(
            body,
            replace(style, stand_s=0.6, wait_s=0.7, meeting=meeting,
                    knee_landing_deg=float(rng.uniform(10, 18))),
        )  # fmt: skip
    if entry.exercise == "single_leg_vertical":
        return single_leg_vertical(rng, body, is_lost=entry.lost)
    return {"drop_hops": drop_hops, "turn_jump": turn_jump}[entry.exercise](rng, body)


def _raised(camera: Camera) -> Camera:
    """Aimed so high that the feet are below the picture."""
    eye, target = np.array(camera.eye_m), np.array(camera.target_m)
    nearer = target + 0.75 * (eye - target)
    x, y, z = (float(v) for v in nearer)
    return replace(camera, eye_m=(x, max(y, 1.2), z),
                   target_m=(camera.target_m[0], 1.38, camera.target_m[2]))  # fmt: skip


def write_schedule(folder: Path) -> Path:
    """Write who did what on which day, as ``schedule.json``."""
    rows = [
        {
            "clip": entry.name,
            "athlete": ATHLETES[entry.athlete].name,
            "stature_m": ATHLETES[entry.athlete].body.stature_m,
            "day": entry.day,
            "exercise": entry.exercise,
        }
        for entry in ENTRIES
    ]
    path = folder / "schedule.json"
    path.write_text(json.dumps({"visits": rows}, indent=1) + "\n", encoding="utf-8")
    return path
