"""One clip as a whole: motion, look, place, camera and recording; and its three files."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sample_clips.camera import Camera
from sample_clips.curves import Floats
from sample_clips.film import Recording, add_noise, write_film
from sample_clips.look import Look
from sample_clips.motion import Motion
from sample_clips.picture import Bytes, Shot, draw_pictures
from sample_clips.scene import Place, draw_backdrop, draw_box
from sample_clips.truth import JOINTS, joint_pixels, tell_truth


@dataclass(frozen=True)
class Scenario:
    """Everything about a clip."""

    name: str
    exercise: str
    view: str
    motion: Motion
    look: Look
    place: Place
    camera: Camera
    recording: Recording
    lens_blur_px: float = 0.6
    refusal: str = ""
    """Why a tool should refuse this clip, where it should."""
    remark: str = ""
    start_s: float = 0.0
    """Motion time at about which the clip begins; its phase within a frame is drawn by seed."""
    seed: int = 0

    def frame_times_s(self) -> Floats:
        """Motion times of the distinct pictures."""
        rng = np.random.default_rng(self.seed + 7)
        phase = self.start_s + rng.random() / self.recording.capture_rate_hz
        times: Floats = phase + self.recording.capture_times_s(self.motion.end_s - phase)
        return times


def truth_of(scenario: Scenario, frames: int) -> dict[str, Any]:
    """The content of the truth file."""
    body, camera, recording = scenario.motion.body, scenario.camera, scenario.recording
    times = scenario.frame_times_s()
    told = tell_truth(
        scenario.motion, camera, view=scenario.view, first_s=float(times[0]),
        last_s=float(times[-1]), exercise=scenario.exercise,
    )  # fmt: skip
    expect = scenario.refusal or scenario.remark
    return {
        "name": scenario.name,
        "exercise": scenario.exercise,
        "view": scenario.view,
        "measurable": not scenario.refusal,
        **({"expect": expect} if expect else {}),
        "file": {
            "container_rate_hz": recording.container_rate_hz,
            "capture_rate_hz": recording.capture_rate_hz,
            "file_s_per_s": recording.file_s_per_s,
            "variable_rate": recording.variable_rate,
            "rotation_deg": recording.rotation_deg,
            "width_px": camera.width_px,
            "height_px": camera.height_px,
            "frames": frames,
        },
        "athlete": {"stature_m": body.stature_m, "mass_kg": body.mass_kg, "sex": body.sex},
        "camera": {
            "hfov_deg": round(camera.hfov_deg, 6),
            "eye_m": [round(v, 5) for v in camera.eye_m],
            "target_m": [round(v, 5) for v in camera.target_m],
            "m_per_px_at_athlete": round(_m_per_px(scenario), 6),
        },
        **told,
    }


def _m_per_px(scenario: Scenario) -> float:
    """Metres per pixel at the centre of mass, halfway through the first jump."""
    flights = scenario.motion.flights_s
    middle = np.array([sum(flights[0]) / 2 if flights else 0.0])
    place = scenario.motion.path.place_m(middle) - np.array(scenario.camera.eye_m)
    return float((place @ scenario.camera.axes()[2])[0] / scenario.camera.focal_px)


def write_clip(scenario: Scenario, folder: Path) -> Path:
    """Draw a clip and write NAME.mp4, NAME.json and NAME.npz."""
    folder.mkdir(parents=True, exist_ok=True)
    times = scenario.frame_times_s()
    path = folder / f"{scenario.name}.mp4"
    pictures = add_noise(_pictures(scenario, times), scenario.recording)
    frames = write_film(path, pictures, times_s=times, recording=scenario.recording)
    truth = truth_of(scenario, frames)
    path.with_suffix(".json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    every = np.repeat(times, scenario.recording.repeats)
    np.savez_compressed(
        path.with_suffix(".npz"), time_s=every - every[0], joints=np.array(JOINTS),
        px=joint_pixels(scenario.motion, scenario.camera, every).astype(np.float32),
    )  # fmt: skip
    return path


def _pictures(scenario: Scenario, times: Floats) -> Iterator[Bytes]:
    return draw_pictures(shot_of(scenario), times)


def shot_of(scenario: Scenario) -> Shot:
    """Everything that the pictures need, with the empty place drawn."""
    motion, place = scenario.motion, scenario.place
    middle = motion.path.place_m(np.array([motion.end_s / 2]))[0]
    backdrop = draw_backdrop(place, scenario.camera, middle_m=middle)
    if box_m := motion.notes.get("box_m"):
        # The front edge is a little ahead of the toes.
        backdrop = draw_box(
            backdrop, scenario.camera, low_m=np.array([-0.28, 0.0, -0.42]),
            high_m=np.array([0.28, box_m, 0.015]), place=place,
        )  # fmt: skip
    return Shot(
        motion, scenario.look, scenario.camera, place, backdrop, scenario.recording.exposure_s,
        lens_blur_px=scenario.lens_blur_px, seed=scenario.seed,
    )  # fmt: skip
