"""Crossing legs whose names were exchanged get them back."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.legs import restore_legs
from measure.types import FOOT_LANDMARKS, Landmark, PoseTrack

ORDER = np.arange(len(Landmark))
LEGS = [[leg.hip, leg.knee, leg.ankle, leg.heel, leg.toe] for leg in FOOT_LANDMARKS.values()]
EXCHANGED = ORDER.copy()
EXCHANGED[LEGS[0]], EXCHANGED[LEGS[1]] = LEGS[1], LEGS[0]


def runner(rate_hz: float, *, duration_s: float = 2.0, seed: int = 4) -> PoseTrack:
    """Somebody running to the right in profile: the feet swing 80 px, 1.5 strides a second."""
    time_s = np.arange(round(rate_hz * duration_s)) / rate_hz
    px = np.zeros((time_s.size, len(Landmark), 2))
    phase = 2 * np.pi * 1.5 * time_s
    for side, leg in enumerate(LEGS):
        swing = np.sin(phase + np.pi * side)
        lift = np.clip(np.cos(phase + np.pi * side), 0, None)
        for point, (reach, height) in zip(
            leg, [(5, 0), (40, 100), (80, 200), (75, 210), (95, 215)], strict=True
        ):
            px[:, point, 0] = 300 * time_s + reach * swing
            px[:, point, 1] = 300 + height - 0.2 * height * lift
    px += np.random.default_rng(seed).normal(0, 1.5, px.shape)
    visibility = np.full(px.shape[:2], 0.8)
    visibility[:, LEGS[0]] = 0.9
    world_m = np.concatenate([px / 200, np.zeros((*px.shape[:2], 1))], axis=-1)
    return PoseTrack(np.arange(time_s.size), time_s, px, visibility, world_m, 1280, 720)


def exchange(track: PoseTrack, rows: np.ndarray) -> PoseTrack:
    px, visibility = track.px.copy(), track.visibility.copy()
    world_m = track.world_m.copy()
    px[rows], world_m[rows] = px[rows][:, EXCHANGED], world_m[rows][:, EXCHANGED]
    visibility[rows] = visibility[rows][:, EXCHANGED]
    return dataclasses.replace(track, px=px, visibility=visibility, world_m=world_m)


def wrong_rows(track: PoseTrack, truth: PoseTrack) -> np.ndarray:
    return np.flatnonzero(np.any(track.px != truth.px, axis=(1, 2)))


def rows_between(track: PoseTrack, start_s: float, end_s: float) -> np.ndarray:
    return np.flatnonzero((track.file_time_s >= start_s) & (track.file_time_s < end_s))


@pytest.mark.parametrize("rate_hz", [30, 60, 120])
def test_right_names_are_left_alone(rate_hz):
    truth = runner(rate_hz)
    assert wrong_rows(restore_legs(truth), truth).size == 0


@pytest.mark.parametrize("rate_hz", [30, 60, 120])
@pytest.mark.parametrize("span_s", [(0.45, 0.55), (0.4, 0.6), (1.1, 1.35)])
def test_exchanged_rows_are_put_back(rate_hz, span_s):
    truth = runner(rate_hz)
    rows = rows_between(truth, *span_s)
    swapped = exchange(truth, rows)
    assert wrong_rows(swapped, truth).size == rows.size
    restored = restore_legs(swapped)
    # Where the legs pass each other either name fits: a row there may keep the wrong one.
    ankles = truth.px[:, [Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE], 0]
    wrong = wrong_rows(restored, truth)
    assert np.all(np.abs(np.diff(ankles[wrong], axis=1)) < 60)
    assert wrong.size <= 0.35 * rows.size
    assert np.array_equal(
        restored.visibility[:, Landmark.LEFT_KNEE] == 0.8, np.isin(np.arange(len(ankles)), wrong)
    )


def test_gaps_part_the_clip():
    truth = runner(60)
    truth.px[50:70] = np.nan
    rows = rows_between(truth, 1.45, 1.6)
    restored = restore_legs(exchange(truth, rows))
    assert not np.isin(rows[2:-2], wrong_rows_seen(restored, truth)).any()


def wrong_rows_seen(track: PoseTrack, truth: PoseTrack) -> np.ndarray:
    return np.flatnonzero(np.nan_to_num(np.abs(track.px - truth.px)).max(axis=(1, 2)) > 0)


def test_legs_that_coincide_keep_the_models_names():
    """Standing in profile: one leg hides the other, names are noise and stay as they are."""
    truth = runner(60)
    for left, right in zip(*LEGS, strict=True):
        noise = np.random.default_rng(left).normal(0, 1.5, truth.px[:, left].shape)
        truth.px[:, right] = truth.px[:, left] + noise
    assert wrong_rows(restore_legs(truth), truth).size == 0


def test_too_few_rows_are_left_alone():
    truth = runner(60, duration_s=0.033)
    assert truth.px.shape[0] == 2
    assert wrong_rows(restore_legs(truth), truth).size == 0


@pytest.mark.clips
@pytest.mark.slow
def test_drawn_sprinter_gets_her_legs_back(shared_clips):
    """Seen: 28 of 160 rows with exchanged legs before, 10 after."""
    from measure.io.athlete import follow_athlete
    from measure.io.pose_landmarks import BundledPose
    from measure.io.read import open_clip

    truth = np.load(shared_clips / "sprint_30_hall.npz")
    names = list(truth["joint_names"])
    with open_clip(shared_clips / "sprint_30_hall.mp4") as clip:
        track = follow_athlete(clip, BundledPose()).track
    drawn = truth["joints_px"][track.frame_index]
    feet = np.stack(
        [drawn[:, [names.index(f"{j}.{side}") for j in ("ankle", "toe")]] for side in "LR"], axis=1
    )
    before, after = exchanged_feet(track, feet), exchanged_feet(restore_legs(track), feet)
    assert before.sum() > 15, "there is something to put back"
    assert after.sum() < 0.6 * before.sum()


def exchanged_feet(track: PoseTrack, feet_px: np.ndarray) -> np.ndarray:
    """Rows in which the exchanged feet lie 4 px nearer to the drawn ones, shape (T,)."""
    read = np.stack([track.px[:, [leg[2], leg[4]]] for leg in LEGS], axis=1)

    def apart_px(feet: np.ndarray) -> np.ndarray:
        return np.linalg.norm(feet - feet_px, axis=-1).mean(axis=(1, 2))

    return apart_px(read[:, ::-1]) + 4.0 < apart_px(read)
