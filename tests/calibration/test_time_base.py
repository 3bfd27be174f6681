from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.clock_evidence import ClockEvidence
from calibration.falls import Fall
from calibration.repeats import CadenceSection, Repeats
from calibration.scale import ASSUMED_STATURE
from calibration.time_base import fit_time_base
from calibration.values import Scale, TimeBase
from tests.calibration.flights import M_PER_PX, STATURE_RULER, falls_at

ASSUMED_RULER = Scale(
    M_PER_PX, M_PER_PX * ASSUMED_STATURE.sigma / ASSUMED_STATURE.value, source="stature"
)


def stamps(rate_hz: float, *, duration_s: float = 6.0) -> np.ndarray:
    return np.arange(int(duration_s * rate_hz)) / rate_hz


def judged(rate_hz: float, **known: object) -> TimeBase:
    return fit_time_base(stamps(rate_hz), evidence=ClockEvidence(**known))  # type: ignore[arg-type]


def with_gravity(rate_hz: float, *, slow: float, **known: object) -> TimeBase:
    known = {"ruler": STATURE_RULER, "falls": falls_at(rate_hz=rate_hz, slow=slow)} | known
    return judged(rate_hz, **known)


def repeats_of(showings: float, *, rate_hz: float = 30.0, regular: bool = True) -> Repeats:
    none = np.zeros(10, dtype=np.bool_)
    return Repeats(
        none, ~none, 1 - 1 / showings, showings, regular, showings / rate_hz, sections=()
    )


# --- the files of the published timing checks, as far as arrays go ---


def test_real_time_stamps_without_a_note() -> None:
    base = judged(240.0)
    assert (base.status, base.file_s_per_s) == ("as_filed", 1.0)
    assert base.capture_rate_hz == pytest.approx(240.0)
    assert not base.checked_by_gravity
    assert any("could not check" in sentence for sentence in base.evidence)


def test_thirty_with_a_note_of_240_is_eight_times_slow_and_says_on_what_it_rests() -> None:
    base = judged(30.0, capture_rate_tag_hz=240.0)
    assert (base.status, base.file_s_per_s) == ("slow_motion", 8.0)
    assert base.capture_rate_hz == pytest.approx(240.0)
    assert any("note alone" in sentence for sentence in base.evidence)


def test_a_phone_whose_thirty_is_not_quite_thirty_is_still_four_times_slow() -> None:
    # Seen in a public report: nominal 30.045, from 28.6 to 33.1, captured at 120.
    jitter = np.random.default_rng(4).uniform(-0.0015, 0.0015, 200)
    uneven = np.arange(200) / 30.045 + jitter
    base = fit_time_base(uneven, evidence=ClockEvidence(capture_rate_tag_hz=120.0))
    assert (base.status, base.file_s_per_s) == ("slow_motion", 4.0)


def test_240_with_a_note_of_240_is_real_time() -> None:
    base = judged(239.981, capture_rate_tag_hz=240.0)
    assert (base.status, base.file_s_per_s) == ("as_filed", 1.0)


def test_mixed_repeats_are_refused_unless_gravity_speaks_in_each_part() -> None:
    sections = (CadenceSection(0.0, 3.0, 1.0), CadenceSection(3.0, 9.0, 2.0))
    none = np.zeros(10, dtype=np.bool_)
    mixed = Repeats(none, ~none, 0.3, 1.4, False, 1.4 / 30, sections)
    assert judged(30.0, repeats=mixed).status == "refused"
    one = with_gravity(30.0, slow=1.0, repeats=mixed)
    assert one.status == "refused"
    both = with_gravity(
        30.0, slow=1.0, repeats=mixed, falls=falls_at(rate_hz=30.0, slow=1.0, count=2)
    )
    assert (both.status, both.checked_by_gravity) == ("as_filed", True)


def test_another_playing_speed_is_refused_unless_gravity_settles_it() -> None:
    assert judged(30.0, edit_rate_not_one=True).status == "refused"
    assert with_gravity(30.0, slow=1.0, edit_rate_not_one=True).status == "as_filed"


def test_a_dropped_frame_that_stamps_show_changes_nothing() -> None:
    gapped = np.delete(stamps(60.0), 100)
    base = fit_time_base(gapped, evidence=ClockEvidence())
    assert base.file_s_per_s == 1.0
    assert base.capture_rate_hz == pytest.approx(60.0)


# --- gravity as a clock ---


@pytest.mark.parametrize(
    ("filed_hz", "captured_hz"),
    [(30.0, 240.0), (30.0, 120.0), (120.0, 240.0), (30.0, 60.0), (25.0, 100.0), (29.97, 239.76)],
)
def test_slow_motion_without_a_note_is_undone(filed_hz: float, captured_hz: float) -> None:
    base = with_gravity(filed_hz, slow=captured_hz / filed_hz)
    assert base.status == "slow_motion", base.refusal
    assert base.file_s_per_s == pytest.approx(captured_hz / filed_hz, rel=1e-6)
    assert base.capture_rate_hz == pytest.approx(captured_hz, rel=1e-3)
    assert base.checked_by_gravity


@pytest.mark.parametrize(
    ("filed_hz", "slow", "apparent_mps2"),
    # Computed: 240 read as 30, 120 as 30, 240 as 120.
    [(30.0, 8.0, 0.15323), (30.0, 4.0, 0.61292), (120.0, 2.0, 2.45166)],
)
def test_apparent_gravity_of_a_wrong_clock(
    filed_hz: float, slow: float, apparent_mps2: float
) -> None:
    fall = falls_at(rate_hz=filed_hz, slow=slow)[0]
    assert fall.fall_px_per_file_s2 * M_PER_PX == pytest.approx(apparent_mps2, rel=0.03)


@pytest.mark.parametrize("rate_hz", [24.0, 25.0, 30.0, 60.0, 120.0, 240.0])
@pytest.mark.parametrize("assumed", [False, True])
def test_real_time_stays(rate_hz: float, assumed: bool) -> None:
    ruler = ASSUMED_RULER if assumed else STATURE_RULER
    base = with_gravity(rate_hz, slow=1.0, ruler=ruler, ruler_assumed=assumed)
    assert (base.status, base.checked_by_gravity) == ("as_filed", True)


@pytest.mark.parametrize("slow", [1.15, 1.25, 1.3, 2.3, 2.6, 5.5, 6.5])
def test_a_speed_that_no_camera_makes_is_refused(slow: float) -> None:
    base = with_gravity(30.0, slow=slow)
    assert base.status == "refused"
    assert base.refusal is not None
    assert base.refusal.hint


def test_slow_and_normal_flights_in_one_file_are_refused() -> None:
    falls = (*falls_at(rate_hz=30.0), *falls_at(rate_hz=30.0, slow=8.0))
    base = judged(30.0, ruler=STATURE_RULER, falls=falls)
    assert base.status == "refused"
    assert base.refusal is not None
    assert "others" in base.refusal.reason


@pytest.mark.parametrize(("clean_count", "status"), [(3, "refused"), (4, "as_filed")])
def test_one_flight_that_seems_to_change_its_tempo_is_outvoted(
    clean_count: int, status: str
) -> None:
    clean = falls_at(rate_hz=60.0, count=clean_count)
    bent = replace(clean[-1], changes_tempo=True, is_parabola=False, start_file_s=40.0)
    assert judged(60.0, ruler=STATURE_RULER, falls=(*clean, bent)).status == status


def test_flights_that_change_their_tempo_are_not_outvoted_by_vague_ones() -> None:
    vague = replace(STATURE_RULER, m_per_px_sigma=0.3 * M_PER_PX)
    clean = falls_at(rate_hz=60.0, count=5)
    bent = replace(clean[-1], changes_tempo=True, is_parabola=False, start_file_s=40.0)
    assert judged(60.0, ruler=vague, falls=(*clean, bent)).status == "refused"


def test_a_child_under_an_assumed_stature_keeps_real_time() -> None:
    tall_ruler = Scale(M_PER_PX * 1.70 / 1.20, 0.059 * M_PER_PX, source="stature")
    base = with_gravity(60.0, slow=1.0, ruler=tall_ruler, ruler_assumed=True)
    assert base.status == "as_filed"
    assert any("1.2" in sentence and "tall" in sentence for sentence in base.evidence)


def test_a_slow_child_under_an_assumed_stature_is_asked_for_it() -> None:
    tall_ruler = Scale(M_PER_PX * 1.70 / 1.20, 0.059 * M_PER_PX, source="stature")
    base = with_gravity(30.0, slow=2.0, ruler=tall_ruler, ruler_assumed=True)
    assert base.status == "refused"
    assert base.refusal is not None
    assert "stature" in base.refusal.hint


@pytest.mark.parametrize("error", [0.9, 1.1])
def test_a_stature_wrong_by_a_tenth_does_not_slow_a_real_clip(error: float) -> None:
    ruler = Scale(M_PER_PX * error, 0.025 * M_PER_PX, source="stature")
    base = with_gravity(60.0, slow=1.0, ruler=ruler)
    assert base.file_s_per_s == 1.0
    assert base.status == "as_filed"


# --- contradictions ---


def test_real_time_that_carries_its_originals_note_is_believed_to_gravity() -> None:
    base = with_gravity(30.0, slow=1.0, capture_rate_tag_hz=240.0)
    assert (base.status, base.checked_by_gravity) == ("as_filed", True)


def test_a_note_that_gravity_contradicts_is_refused() -> None:
    assert with_gravity(30.0, slow=4.0, capture_rate_tag_hz=240.0).status == "refused"


def test_a_note_of_no_usual_factor_is_refused_without_gravity() -> None:
    assert judged(30.0, capture_rate_tag_hz=960.0).status == "refused"
    assert judged(60.0, capture_rate_tag_hz=30.0).status == "refused"


def test_a_flight_longer_than_any_jump_is_no_real_time_even_without_a_scale() -> None:
    falls = falls_at(rate_hz=30.0, slow=4.0)
    assert judged(30.0, falls=falls).status == "refused"


def test_half_a_second_in_the_air_without_a_rise_is_no_real_time() -> None:
    hop = Fall(1.0, 1.52, 60.0, 40.0, 1.2, 16, is_parabola=False)
    assert judged(30.0, ruler=STATURE_RULER, falls=(hop,)).status == "refused"


def test_a_small_hop_in_real_time_passes_unchecked() -> None:
    falls = falls_at(rate_hz=120.0, flight_s=0.09)
    base = judged(120.0, ruler=STATURE_RULER, falls=falls)
    assert base.status == "as_filed"
    assert not base.checked_by_gravity


def test_a_clip_meant_as_slow_motion_needs_gravity_unless_its_rate_is_high() -> None:
    assert judged(30.0, playback_intent=0).status == "refused"
    assert judged(240.0, playback_intent=0).status == "as_filed"
    assert with_gravity(30.0, slow=1.0, playback_intent=0).status == "as_filed"


# --- repeated pictures ---


@pytest.mark.parametrize("showings", [2, 3, 4])
def test_a_clip_slowed_by_repeating_pictures_is_undone(showings: int) -> None:
    falls = falls_at(rate_hz=30.0 / showings, slow=float(showings))
    base = judged(
        30.0, ruler=STATURE_RULER, falls=falls, repeats=repeats_of(showings)
    )  # fmt: skip
    assert (base.status, base.file_s_per_s) == ("slow_motion", showings)
    assert base.capture_rate_hz == pytest.approx(30.0)


def test_fifteen_pictures_a_second_shown_twice_are_coarse_but_real() -> None:
    falls = falls_at(rate_hz=15.0, flight_s=0.55)
    base = judged(30.0, ruler=STATURE_RULER, falls=falls, repeats=repeats_of(2))
    assert (base.status, base.file_s_per_s) == ("as_filed", 1.0)
    assert base.capture_rate_hz == pytest.approx(15.0)


def test_repeats_without_a_flight_are_refused() -> None:
    assert judged(30.0, repeats=repeats_of(2)).status == "refused"


# --- a person's word ---


def test_the_rate_asked_for_wins_and_gravity_still_speaks() -> None:
    base = with_gravity(30.0, slow=1.0, asked_capture_rate_hz=240.0)
    assert (base.status, base.file_s_per_s) == ("slow_motion", pytest.approx(8.0))
    assert any("contradicts" in sentence for sentence in base.evidence)
    assert not base.checked_by_gravity
    agreeing = with_gravity(30.0, slow=8.0, asked_capture_rate_hz=240.0)
    assert agreeing.checked_by_gravity


def test_wrong_calls_are_named() -> None:
    with pytest.raises(ValueError, match="asked_capture_rate_hz"):
        ClockEvidence(asked_capture_rate_hz=0.0)
    with pytest.raises(ValueError, match="ruler"):
        ClockEvidence(ruler=Scale(0.004, 0.0, source="gravity"))
    with pytest.raises(ValueError, match="stamps_file_s"):
        fit_time_base(np.array([0.0]), evidence=ClockEvidence())
