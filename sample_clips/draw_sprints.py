"""Draw sprints with their true times, to see how good a clock the program is.

Run ``python -m sample_clips.draw_sprints FOLDER [--count N] [--seed N] [--turns]``, then
``python -m tests.truth.sprint FOLDER``.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from sample_clips.camera import Camera
from sample_clips.curves import Floats
from sample_clips.film import Recording, add_noise, write_film
from sample_clips.look import Look, draw_look
from sample_clips.picture import Shot, athlete_skins, draw_pictures
from sample_clips.scene import OVER, draw_backdrop, draw_place
from sample_clips.shuffle_motion import DrawnShuffle, draw_shuffle
from sample_clips.sprint_motion import DrawnRun, Rng, draw_run

APART_M = 4.572
"""Between cones, 5 yards."""
CONES_ASIDE_M = 0.5
"""Between the row of cones and the runner's line."""
CONE_M = 0.23
CONE_RGB = (30, 90, 235)
MOVED_M = 0.005
"""A part of the body so far from the set position has moved."""
LOOKED_AT_S = np.arange(-0.05, 0.3, 0.001)
RATES_HZ = (60, 60, 30, 60, 120, 30)
GROUNDS = ("grass", "asphalt", "rubber")


def main(arguments: list[str] | None = None) -> None:
    """Read the command line and draw."""
    name = "python -m sample_clips.draw_sprints"
    parser = argparse.ArgumentParser(prog=name, description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=6)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--turns", action="store_true", help="shuffle, turn and sprint")
    wanted = parser.parse_args(arguments)
    wanted.folder.mkdir(parents=True, exist_ok=True)
    for number in range(wanted.seed, wanted.seed + wanted.count):
        print(draw_sprint(wanted.folder, number, turns=wanted.turns), flush=True)


def draw_sprint(folder: Path, seed: int, *, turns: bool = False) -> str:
    """Write one run: clip, truth and lane file."""
    rng = np.random.default_rng(3000 + seed)
    run = draw_shuffle(rng) if turns else draw_run(rng)
    rate_hz = RATES_HZ[seed % len(RATES_HZ)]
    name = f"{'turn' if turns else 'run'}{seed:02d}_{rate_hz}"
    marks_m = np.arange(0, run.last_m + 0.1, APART_M)
    camera, away_m, right = _draw_camera(rng, run.last_m)
    place = replace(
        draw_place(rng, ground=str(rng.choice(GROUNDS))), wall_away_m=float(rng.uniform(4, 10)),
        lines=False,
    )  # fmt: skip
    backdrop = draw_backdrop(place, camera, middle_m=np.array([0.0, 0.0, camera.target_m[2]]))
    marks_px = _put_cones(backdrop, camera, marks_m, (1 if right else -1) * CONES_ASIDE_M)
    marks_px += rng.normal(0, 0.5, marks_px.shape)
    look = draw_look(rng, barefoot=False)
    recording = Recording(
        capture_rate_hz=rate_hz, container_rate_hz=rate_hz, noise=1.6, crf=23, seed=seed,
        exposure_s=1 / 400 if rate_hz > 30 else 1 / 200,
    )  # fmt: skip
    first_s = float(rng.random()) / rate_hz
    times_s = first_s + np.arange(int((run.hips.ends_s - first_s) * rate_hz)) / rate_hz
    shot = Shot(run, look, camera, place, backdrop, recording.exposure_s, moments=3, seed=seed)
    frames = write_film(
        folder / f"{name}.mp4", add_noise(draw_pictures(shot, times_s), recording),
        times_s=times_s, recording=recording,
    )  # fmt: skip
    truth = {
        "name": name, "exercise": "shuffle_sprint" if turns else "sprint", "measurable": True,
        "file": {
            "container_rate_hz": rate_hz, "capture_rate_hz": rate_hz, "file_s_per_s": 1.0,
            "width_px": camera.width_px, "height_px": camera.height_px, "frames": frames,
        },
        "athlete": {"stature_m": run.body.stature_m, "sex": run.body.sex},
        "sprint": _truth(run, look, seed, marks_m=marks_m, seen_s=_seen_s(run, camera, times_s)),
    }  # fmt: skip
    (folder / f"{name}.json").write_text(json.dumps(truth, indent=1))
    measured_m = away_m - CONES_ASIDE_M + float(rng.normal(0, 0.1))
    lane = _lane(marks_m, marks_px, measured_m)
    (folder / f"{name}.lane.json").write_text(json.dumps(lane, indent=1))
    return name


def _draw_camera(rng: Rng, last_m: float) -> tuple[Camera, float, bool]:
    """A phone beside the middle of the lane, how far away, and whether on the runner's left."""
    left = bool(rng.random() < 0.5)
    middle_m, field_deg = last_m / 2 + float(rng.normal(0, 0.3)), float(rng.uniform(62, 70))
    needed_m = (last_m / 2 + 1.7) / np.tan(np.radians(field_deg) / 2)
    away_m = float(needed_m * rng.uniform(1.0, 1.1))
    aside_m = 0.4 * away_m * np.tan(np.radians(rng.normal(0, 2)))
    across_m, high_m = (1 if left else -1) * away_m, float(rng.uniform(1.0, 1.6))
    camera = Camera(
        1920, 1080, field_deg, (across_m, high_m, middle_m),
        (0.0, 0.75 + float(rng.normal(0, 0.2)), middle_m + float(aside_m)),
        roll_rad=float(rng.normal(0, 0.004)),
    )  # fmt: skip
    return camera, away_m, left


def _put_cones(backdrop: Any, camera: Camera, marks_m: Floats, across_m: float) -> Floats:
    """Paint the cones, and give the middle of the foot of each in the picture."""
    feet = []
    for mark_m in marks_m:
        ends_m = np.array([[[across_m, 0, mark_m], [across_m, CONE_M, mark_m]]])
        foot, top = camera.project(ends_m, np.zeros(1))[0][0]
        tall = OVER * float(np.hypot(*(top - foot)))
        shape = np.array([[-0.45, 0.08], [0.45, 0.08], [0.09, -1], [-0.09, -1]])
        corners = np.round(16 * (OVER * foot + tall * shape)).astype(np.int32)
        cv2.fillConvexPoly(backdrop, corners, CONE_RGB, cv2.LINE_AA, 4)
        feet.append(foot)
    return np.array(feet)


def _seen_s(run: DrawnRun, camera: Camera, times_s: Floats) -> tuple[float, float]:
    """First moment filmed, and the last with the hips in the picture."""
    x_px = camera.project(run.place_m(times_s)[:, None], times_s)[0][:, 0, 0]
    return float(times_s[0]), float(times_s[(x_px > 0) & (x_px < camera.width_px)][-1])


def _truth(
    run: DrawnRun, look: Look, seed: int, *, marks_m: Floats, seen_s: tuple[float, float]
) -> dict[str, Any]:
    """Real seconds since the first frame."""
    first_s, last_s = seen_s
    filmed = run.hips.time_s < last_s
    return {
        "start_s": _first_movement_s(run, look, seed) - first_s,
        "start_rule": "a point of the body's surface more than 5 mm from the set position",
        "marks": [
            {"distance_m": float(mark_m), "time_s": run.hips.passes_s(mark_m) - first_s}
            for mark_m in marks_m[1:]
        ],
        **_turn(run, first_s),
        "max_speed_mps": float(run.hips.speed_mps[filmed].max()),
        "time_constant_s": run.hips.tau_s, "front_foot": run.front, "stance": run.stance,
        "steps": [
            {"foot": side, "contact_start_s": start_s - first_s, "contact_end_s": end_s - first_s,
             "kind": "sprint"}
            for side, start_s, end_s in run.steps
        ],
    }  # fmt: skip


def _turn(run: DrawnRun, first_s: float) -> dict[str, Any]:
    if not isinstance(run, DrawnShuffle):
        return {}
    starts_s, ends_s = run.turn_s
    return {
        "turn_start_s": starts_s - first_s, "turn_end_s": ends_s - first_s, "turn_side": run.front,
    }  # fmt: skip


def _first_movement_s(run: DrawnRun, look: Look, seed: int) -> float:
    moments_s = run.hips.starts_s + LOOKED_AT_S
    still = athlete_skins(
        run.joints(np.array([run.hips.starts_s - 0.3])), run.body, look, seed=seed
    )
    moving = athlete_skins(run.joints(moments_s), run.body, look, seed=seed)
    apart_m = np.max([
        np.linalg.norm(now.points_m - then.points_m, axis=-1).max(axis=1)
        for now, then in zip(moving, still, strict=True)
    ], axis=0)  # fmt: skip
    return float(moments_s[np.argmax(apart_m > MOVED_M)])


def _lane(marks_m: Floats, marks_px: Floats, measured_m: float) -> dict[str, Any]:
    return {
        "marks": [
            {"distance_m": float(mark_m), "px": [round(float(v), 2) for v in px], "row": "near"}
            for mark_m, px in zip(marks_m, marks_px, strict=True)
        ],
        "athlete_offset_m": CONES_ASIDE_M, "phone_distance_m": round(measured_m, 2),
        "course": [{"distance_m": float(mark_m)} for mark_m in marks_m[1:]],
    }  # fmt: skip


if __name__ == "__main__":
    main()
