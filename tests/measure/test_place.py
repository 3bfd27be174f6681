"""Who films alone comes from the phone and goes back to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.place import rows_at_place
from measure.types import Floats, Landmark, PoseTrack
from tests.known_motions import IdealJump, even_stamps

TIME_S = even_stamps(60.0, duration_s=9.0)
JUMP = IdealJump(height_m=0.30, take_off_s=4.5)


def _nearer(track: PoseTrack, times: Floats) -> PoseTrack:
    """The same figure so many times as large, about the middle of the picture, shape (T,)."""
    middle = np.array([track.width_px / 2, track.height_px / 2])
    return replace(track, px=middle + times[:, None, None] * (track.px - middle))


@pytest.mark.parametrize("rate", [1.0, 8.0])
def test_the_way_from_the_phone_and_back_is_left_out(rate: float) -> None:
    """Also in slow motion."""
    comes, goes = np.clip((TIME_S - 2.0) / 2.0, -1, 0), np.clip((TIME_S - 7.0) / 2.0, 0, 1)
    track = _nearer(JUMP.track(TIME_S), 1 + 1.5 * (goes - comes))
    stays = rows_at_place(replace(track, file_time_s=rate * track.file_time_s))
    assert not stays[TIME_S < 1.5].any()
    assert stays[(TIME_S > 1.7) & (TIME_S < 7.3)].all()
    assert not stays[TIME_S > 7.5].any()


def test_a_jump_alone_is_kept_whole() -> None:
    track = JUMP.track(TIME_S, noise_px=3.0, rng=np.random.default_rng(3))
    assert rows_at_place(track).all()


def test_who_squats_before_the_camera_for_most_of_the_clip_is_at_her_place() -> None:
    """Thighs and trunk point at the camera; she stands only at the start and the end."""
    track = JUMP.track(TIME_S)
    squats = (TIME_S > 1.0) & (TIME_S < 8.0)
    for points in (track.px, track.world_m):
        middle = points[:, [Landmark.LEFT_HIP], 1:2]
        points[squats, :, 1:2] = (middle + 0.6 * (points[..., 1:2] - middle))[squats]
    assert rows_at_place(track).all()


def test_who_comes_nearer_in_between_is_kept() -> None:
    nearer = 1 + 0.8 * np.exp(-(((TIME_S - 4.0) / 0.8) ** 2))
    assert rows_at_place(_nearer(JUMP.track(TIME_S), nearer)).all()


def test_rows_without_a_body_are_kept() -> None:
    track = JUMP.track(TIME_S)
    track.px[:100] = np.nan
    assert rows_at_place(track).all()
    track.px[:] = np.nan
    assert rows_at_place(track).all()
