"""What was seen, kept and found again: the same numbers, and nothing where anything differs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.values import Refused
from measure.contacts.judge import FootEvent
from measure.contacts.segment import TimedEvent
from measure.io.athlete import FollowedAthlete
from measure.io.changes import PictureChanges
from measure.io.look import CameraPath, FirstLook
from measure.io.shelf import SAME_SCALE_SHARE, Looked
from measure.types import Instant, PoseTrack
from tests.measure.contacts.drawn_shoe import plan_of

CLIP = "a" * 64
RNG = np.random.default_rng(3)
TRACK = PoseTrack(
    frame_index=np.arange(5) * 4, file_time_s=np.arange(5) / 60, px=RNG.normal(size=(5, 33, 2)),
    visibility=RNG.random((5, 33)), world_m=RNG.normal(size=(5, 33, 3)), width_px=1280,
    height_px=720,
)  # fmt: skip
LOOK = FirstLook(
    FollowedAthlete(TRACK, 2, 0.9, 0.1, 0.0, 480.5), np.arange(20) / 240,
    PictureChanges(RNG.random(19), RNG.random(19)),
    CameraPath(np.array([0, 16]), RNG.normal(size=(2, 2, 3)), 0.25), 117.0,
)  # fmt: skip
PLANS = [plan_of("take_off", coarse_s=0.5), plan_of("landing", coarse_s=0.9)]
EVENTS = [
    TimedEvent(PLANS[0], FootEvent(
        "left", Instant(0.5012345, 0.0021), 3, 0.0011, place_px=(310.0, 502.5, 331.0, 520.0)
    )),
    TimedEvent(PLANS[1], Refused("landing", "no shoe", "film it")),
]


class DictShelf(dict[tuple[str, str], bytes]):
    """A shelf that loses nothing."""

    def load(self, clip_sha256: str, name: str) -> bytes | None:
        return self.get((clip_sha256, name))

    def save(self, clip_sha256: str, name: str, content: bytes) -> None:
        self[clip_sha256, name] = content


def _never() -> FirstLook:
    raise AssertionError("looked at twice")


def _never_timed() -> list[TimedEvent]:
    raise AssertionError("looked at twice")


def test_a_look_comes_back_to_the_last_bit() -> None:
    looked = Looked(DictShelf(), CLIP, "model 1")
    looked.look(lambda: LOOK)
    again = looked.look(_never)
    for name in ("frame_index", "file_time_s", "px", "visibility", "world_m"):
        assert np.array_equal(getattr(again.athlete.track, name), getattr(TRACK, name))
    assert again.athlete.track.width_px == 1280
    assert replace(again.athlete, track=TRACK) == LOOK.athlete
    assert np.array_equal(again.frame_file_time_s, LOOK.frame_file_time_s)
    assert np.array_equal(again.changes.motion_level, LOOK.changes.motion_level)
    assert np.array_equal(again.camera.at(7), LOOK.camera.at(7))
    assert (again.camera.moved_px, again.brightness) == (0.25, 117.0)


@pytest.mark.parametrize("other", [{"clip_sha256": "b" * 64}, {"versions": "model 2"}])
def test_another_clip_or_model_is_looked_at(other: dict[str, str]) -> None:
    looked = Looked(DictShelf(), CLIP, "model 1")
    looked.look(lambda: LOOK)
    with pytest.raises(AssertionError, match="looked at twice"):
        replace(looked, **other).look(_never)


def test_what_is_damaged_is_looked_at_again() -> None:
    shelf = DictShelf()
    looked = Looked(shelf, CLIP, "model 1")
    looked.look(lambda: LOOK)
    for place in shelf:
        shelf[place] = shelf[place][:-200]
    assert looked.look(lambda: LOOK) is LOOK


def test_events_come_back_and_stand_for_nearly_the_same_stature() -> None:
    looked = Looked(DictShelf(), CLIP, "model 1")
    looked.events(PLANS, lambda: EVENTS, px_per_m=300.0, interval_s=1 / 240)
    for px_per_m in (300.0, 300 * (1 - 0.8 * SAME_SCALE_SHARE)):
        again = looked.events(PLANS, _never_timed, px_per_m=px_per_m, interval_s=1 / 240)
        assert [one.event for one in again] == [one.event for one in EVENTS]
        assert [one.plan.kind for one in again] == ["take_off", "landing"]
    with pytest.raises(AssertionError, match="looked at twice"):
        looked.events(PLANS, _never_timed, px_per_m=200.0, interval_s=1 / 240)


def test_other_plans_are_looked_at() -> None:
    looked = Looked(DictShelf(), CLIP, "model 1")
    looked.events(PLANS, lambda: EVENTS, px_per_m=300.0, interval_s=1 / 240)
    later = [replace(PLANS[0], coarse_s=0.51), PLANS[1]]
    with pytest.raises(AssertionError, match="looked at twice"):
        looked.events(later, _never_timed, px_per_m=300.0, interval_s=1 / 240)


def test_without_a_shelf_everything_is_looked_at() -> None:
    looked = Looked(None, CLIP, "model 1")
    assert looked.look(lambda: LOOK) is LOOK
    assert looked.look(lambda: LOOK) is LOOK
