"""The flights of a clip as witnesses of its clock and scale."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.repeats import find_repeats
from calibration.values import Refused, Scale
from measure.clock import Clock, ClockFacts, decide_clock, decide_file_clock
from measure.contacts.coarse import find_flights, find_lifts
from measure.contacts.floor import measure_foot_heights
from measure.request import ClipRequest, Reference
from measure.types import Floats, PoseTrack
from tests.known_motions import IdealJump, even_stamps
from tests.measure.contacts.stick_walks import M_PER_PX, box_drop, moved

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)
REAL_S = even_stamps(240.0, duration_s=4.0)
NOTHING_SAID = ClipRequest(Path("clip.mp4"))


def _request(**asked: float | Reference) -> ClipRequest:
    return replace(NOTHING_SAID, **asked)  # type: ignore[arg-type]


def _facts(
    stamps_file_s: Floats, *, tag_hz: float | None = None, intent: int | None = None,
    edit_rate: float | None = None,
) -> ClockFacts:  # fmt: skip
    return ClockFacts(stamps_file_s, tag_hz, intent, edit_rate)


def _clock(
    request: ClipRequest, *, slow: float = 1.0, tag_hz: float | None = None,
    track: PoseTrack | None = None, real_s: Floats = REAL_S,
) -> Clock:  # fmt: skip
    stamps_file_s = slow * real_s
    track = track or JUMP.track(real_s, noise_px=0.5)
    track = replace(track, file_time_s=stamps_file_s)
    heights = measure_foot_heights(track)
    flights = find_flights(find_lifts(heights), track, stamps_file_s, stride=heights.stride)
    repeats = find_repeats(stamps_file_s, motion_level=np.full(stamps_file_s.size - 1, 10.0))
    return decide_clock(
        flights, track, facts=_facts(stamps_file_s, tag_hz=tag_hz), repeats=repeats,
        request=request, gravity_mps2=STANDARD_GRAVITY_MPS2,
    )  # fmt: skip


@pytest.mark.parametrize("slow", [2.0, 4.0, 8.0])
def test_gravity_undoes_slow_motion(slow: float) -> None:
    clock = _clock(_request(stature_m=1.71), slow=slow)
    assert clock.time_base.status == "slow_motion"
    assert clock.time_base.file_s_per_s == pytest.approx(slow, rel=0.005)
    assert clock.time_base.checked_by_gravity
    assert len(clock.falls) == 1


def test_a_clip_in_real_time_is_confirmed_by_gravity() -> None:
    clock = _clock(_request(stature_m=1.71))
    assert clock.time_base.status == "as_filed"
    assert clock.time_base.checked_by_gravity
    fall_mps2 = clock.falls[0].fall_px_per_file_s2 * M_PER_PX
    assert fall_mps2 == pytest.approx(STANDARD_GRAVITY_MPS2, rel=0.05)


def test_slow_motion_needs_no_stature() -> None:
    clock = _clock(NOTHING_SAID, slow=8.0)
    assert clock.time_base.file_s_per_s == pytest.approx(8.0, rel=0.005)
    assert isinstance(clock.scale, Refused)
    assert "stature" in clock.scale.hint


def test_a_person_s_word_about_the_rate_wins() -> None:
    clock = _clock(_request(stature_m=1.71, capture_rate_hz=240.0), slow=8.0)
    assert clock.time_base.file_s_per_s == pytest.approx(8.0, rel=0.005)
    assert any("240" in line for line in clock.time_base.evidence)


def test_a_stature_makes_the_scale() -> None:
    scale = _clock(_request(stature_m=1.71)).scale
    assert isinstance(scale, Scale)
    assert scale.source == "stature"
    assert abs(scale.m_per_px - M_PER_PX) < 2 * scale.m_per_px_sigma


def test_a_marked_length_makes_the_scale() -> None:
    reference = Reference((100.0, 600.0), (350.0, 600.0), length_m=1.0)
    scale = _clock(_request(reference=reference)).scale
    assert isinstance(scale, Scale)
    assert scale.source == "reference"
    assert scale.m_per_px == pytest.approx(M_PER_PX)
    assert scale.m_per_px_sigma > 0.025 * M_PER_PX  # how near the athlete it lies is not known


def test_stature_and_length_that_contradict_each_other_are_refused() -> None:
    reference = Reference((100.0, 600.0), (350.0, 600.0), length_m=1.5)
    scale = _clock(_request(stature_m=1.71, reference=reference)).scale
    assert isinstance(scale, Refused)
    assert "1.5" in scale.reason or "0.6" in scale.reason


def test_gravity_makes_the_scale_where_the_clock_is_known_without_it() -> None:
    scale = _clock(NOTHING_SAID, tag_hz=240.0).scale
    assert isinstance(scale, Scale)
    assert scale.source == "gravity"
    assert abs(scale.m_per_px - M_PER_PX) < 2 * scale.m_per_px_sigma


def test_a_drop_from_a_box_is_no_witness() -> None:
    track, _ = box_drop(REAL_S, box_m=0.30, off_s=2.0)
    assert _clock(_request(stature_m=1.71), track=track).falls == ()


def test_a_jump_down_from_a_box_is_no_witness() -> None:
    """She rises first, but lands a step lower than she left."""
    track = JUMP.track(REAL_S)
    falling = np.clip((REAL_S - JUMP.apex_s) / (JUMP.landing_s - JUMP.apex_s), 0, 1)
    lower = moved(track, up_m=-0.25 * falling**2)
    assert len(_clock(_request(stature_m=1.71), track=track).falls) == 1
    assert _clock(_request(stature_m=1.71), track=lower).falls == ()


MOVING = np.full(REAL_S.size - 1, 10.0)


def _file_clock(
    request: ClipRequest = NOTHING_SAID, *, motion_level: Floats = MOVING, slow: float = 1.0,
    **facts: float | None,
) -> tuple[str, float, int]:  # fmt: skip
    time_base, distinct = decide_file_clock(
        _facts(slow * REAL_S, **facts),  # type: ignore[arg-type]
        motion_level=motion_level, request=request, gravity_mps2=STANDARD_GRAVITY_MPS2,
    )  # fmt: skip
    return time_base.status, time_base.file_s_per_s, int(distinct.sum())


def test_a_file_without_jumps_keeps_its_clock() -> None:
    assert _file_clock() == ("as_filed", pytest.approx(1.0), REAL_S.size)


def test_a_file_without_jumps_is_put_right_by_a_person() -> None:
    status, factor, _ = _file_clock(replace(NOTHING_SAID, capture_rate_hz=240.0), slow=8.0)
    assert (status, factor) == ("slow_motion", pytest.approx(8.0))


def test_a_capture_rate_that_the_stamps_bear_out_is_believed() -> None:
    assert _file_clock(tag_hz=240.0) == ("as_filed", pytest.approx(1.0), REAL_S.size)


def test_repeated_pictures_are_counted_once() -> None:
    twice = np.where(np.arange(REAL_S.size - 1) % 2 == 0, 0.1, 10.0)
    _, _, distinct = _file_clock(motion_level=twice)
    assert distinct == pytest.approx(REAL_S.size / 2, abs=2)
