"""From timed flights to the report's jumps: published heights, contact times and what is left out.

Expected numbers are those of the flight-time equation with standard gravity (9.80665 m/s^2, 3rd
CGPM 1901): 0.500 s in the air are 30.6458 cm; 0.200 s of contact before them make 1.5323 m/s.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.values import Refused
from measure.clock import ClockFacts
from measure.contacts.segment import Segmentation
from measure.jump_reports import MeasuredJumps, report_jumps
from measure.request import ClipRequest
from measure.scene import Scene, set_scene
from measure.types import Contact, Flight, Floats, Instant, PoseTrack
from tests.known_motions import IdealJump, even_stamps
from tests.measure.contacts.stick_walks import box_drop, moved, standing

HALF_SECOND = IdealJump(height_m=STANDARD_GRAVITY_MPS2 * 0.25 / 8, take_off_s=1.5)
STATURE_M = 1.71
SIGMA_S = 0.003
TIME_S = even_stamps(120.0, duration_s=5.0)


def _scene(track: PoseTrack, request: ClipRequest, *, slow: float = 1.0) -> Scene:
    stamps_file_s = slow * TIME_S
    return set_scene(
        replace(track, file_time_s=stamps_file_s),
        facts=ClockFacts(stamps_file_s, None, None, None),
        motion_level=np.full(TIME_S.size - 1, 10.0), request=request,
        gravity_mps2=STANDARD_GRAVITY_MPS2,
    )  # fmt: skip


def _request(*, stature_m: float | None = STATURE_M, exercise: str | None = None) -> ClipRequest:
    return ClipRequest(Path("clip.mp4"), stature_m=stature_m, exercise=exercise)


def _flight(scene: Scene, number: int, take_off_s: float, landing_s: float) -> Flight:
    rough, slow = scene.flights[number], scene.clock.time_base.file_s_per_s
    return Flight(
        Instant(take_off_s, SIGMA_S), Instant(landing_s, SIGMA_S), "both", "both",
        (rough.start_s / slow, rough.end_s / slow),
    )  # fmt: skip


def _around(flights: list[Flight]) -> tuple[Contact, ...]:
    """Both feet's contacts before, between and after flights."""
    starts = [None, *(flight.landing for flight in flights)]
    ends = [*(flight.take_off for flight in flights), None]
    return tuple(
        Contact(foot, start, end)
        for start, end in zip(starts, ends, strict=True)
        for foot in ("left", "right")
    )  # type: ignore[arg-type]


def _measured(
    track: PoseTrack, instants_s: list[tuple[float, float]], *,
    request: ClipRequest | None = None, refusals: tuple[Refused, ...] = (), slow: float = 1.0,
) -> MeasuredJumps:  # fmt: skip
    request = request or _request()
    scene = _scene(track, request, slow=slow)
    assert len(scene.flights) == len(instants_s)
    flights = [_flight(scene, number, *both) for number, both in enumerate(instants_s)]
    segmentation = Segmentation(_around(flights), tuple(flights), refusals)
    return report_jumps(segmentation, scene, request=request)


IDEAL_S = (HALF_SECOND.take_off_s, HALF_SECOND.landing_s)


def test_half_a_second_in_the_air_is_its_published_height() -> None:
    found = _measured(HALF_SECOND.track(TIME_S), [IDEAL_S])
    (jump,) = found.reports
    assert jump.flight_time_s == pytest.approx(0.5, abs=1e-9)
    assert jump.flight_time_sigma_s == pytest.approx(np.hypot(SIGMA_S, SIGMA_S))
    assert jump.height_m == pytest.approx(0.306458, abs=1e-6)
    # 1.2258 m of height for each second of flight time
    assert jump.height_sigma_m == pytest.approx(1.2258 * jump.flight_time_sigma_s, rel=0.02)
    assert (jump.take_off_s, jump.landing_s) == IDEAL_S
    assert (jump.take_off_side, jump.landing_side) == ("both", "both")
    assert jump.height_com_m == pytest.approx(0.306458, abs=3 * (jump.height_com_sigma_m or 0))
    assert jump.height_standing_m is not None
    assert jump.height_standing_m > jump.height_m
    assert len(found.flights) == 1


def test_after_quiet_standing_there_is_no_contact_time() -> None:
    (jump,) = _measured(HALF_SECOND.track(TIME_S), [IDEAL_S]).reports
    assert (jump.contact_time_s, jump.rsi_mps) == (None, None)


def test_slow_motion_gives_the_same_jump() -> None:
    track = HALF_SECOND.track(TIME_S)
    (real,) = _measured(track, [IDEAL_S]).reports
    (slow,) = _measured(track, [IDEAL_S], slow=4.0).reports
    assert slow.height_m == real.height_m
    assert slow.height_com_m == pytest.approx(real.height_com_m, abs=1e-3)


def _slowed_in_flight(scene: Scene) -> Scene:
    falls = tuple(replace(fall, changes_tempo=True) for fall in scene.clock.falls)
    return replace(scene, clock=replace(scene.clock, falls=falls))


def test_a_flight_in_which_the_clip_changes_its_speed_is_refused_by_name() -> None:
    scene = _slowed_in_flight(_scene(HALF_SECOND.track(TIME_S), _request()))
    flights = [_flight(scene, 0, *IDEAL_S)]
    segmentation = Segmentation(_around(flights), tuple(flights), ())
    found = report_jumps(segmentation, scene, request=_request())
    assert found.reports == found.flights == ()
    (what,) = [one.what for one in found.refusals if "change its speed" in one.reason]
    assert what == f"jump at {flights[0].coarse_s[0]:.2f} s"
    assert found.untimed_s == (flights[0].coarse_s,)
    asked = report_jumps(segmentation, scene, request=replace(_request(), capture_rate_hz=120.0))
    assert len(asked.reports) == 1


def test_without_a_stature_the_height_over_standing_is_refused_and_the_rest_stands() -> None:
    found = _measured(HALF_SECOND.track(TIME_S), [IDEAL_S], request=_request(stature_m=None))
    (jump,) = found.reports
    assert jump.height_m == pytest.approx(0.306458, abs=1e-6)
    assert jump.height_standing_m is None
    assert any("standing" in refusal.what for refusal in found.refusals)


def _hops_up_m(starts_s: list[float], flight_s: float) -> Floats:
    up_m = np.zeros_like(TIME_S)
    for start_s in starts_s:
        since_s = np.clip(TIME_S - start_s, 0, flight_s)
        up_m += STANDARD_GRAVITY_MPS2 * since_s * (flight_s - since_s) / 2
    return up_m


def test_a_hop_has_its_contact_time_and_reactive_strength() -> None:
    track = moved(standing(TIME_S), up_m=_hops_up_m([1.5, 2.2], 0.5))
    found = _measured(track, [(1.5, 2.0), (2.2, 2.7)])
    first, second = found.reports
    assert first.contact_time_s is None
    assert second.contact_time_s == pytest.approx(0.2)
    assert second.contact_time_sigma_s == pytest.approx(np.hypot(SIGMA_S, SIGMA_S), rel=0.3)
    assert second.rsi_mps == pytest.approx(1.5323, abs=1e-4)
    assert second.rsi_sigma_mps is not None
    assert 0.02 < second.rsi_sigma_mps < 0.06


def test_a_drop_from_a_box_is_no_jump_in_the_report() -> None:
    track, landing_s = box_drop(TIME_S, box_m=0.30, off_s=2.0)
    scene = _scene(track, _request())
    assert [flight.is_jump for flight in scene.flights] == [False]
    flight = _flight(scene, 0, 2.0, landing_s)
    found = report_jumps(
        Segmentation(_around([flight]), (flight,), ()), scene, request=_request()
    )
    assert (found.reports, found.flights) == ((), ())


@pytest.mark.parametrize(("fall_share", "count"), [(0.65, 0), (0.98, 1)])
def test_a_step_down_seen_too_long_is_no_jump(fall_share: float, count: int) -> None:
    """Its top seems to lie well inside; hips that fall freely were thrown, wherever they land."""
    track, landing_s = box_drop(TIME_S, box_m=0.30, off_s=2.0)
    scene = _scene(track, _request())
    (drop,) = scene.flights
    assert scene.scale is not None
    early = replace(
        drop, apex_s=(drop.start_s + drop.end_s) / 2,
        fall_px_per_s2=fall_share * STANDARD_GRAVITY_MPS2 / scene.scale.m_per_px,
    )  # fmt: skip
    scene = replace(scene, flights=(early,))
    flight = _flight(scene, 0, 2.0, landing_s)
    found = report_jumps(
        Segmentation(_around([flight]), (flight,), ()), scene, request=_request()
    )
    assert len(found.reports) == count


def test_refusals_of_the_close_look_are_handed_on_once() -> None:
    refusal = Refused("jump at 3.00 s", "landing: too dark", "More light.")
    found = _measured(HALF_SECOND.track(TIME_S), [IDEAL_S], refusals=(refusal, refusal))
    assert found.refusals.count(refusal) == 1
    assert len(found.reports) == 1


def test_no_flight_no_report() -> None:
    scene = _scene(standing(TIME_S), _request())
    found = report_jumps(Segmentation((), (), ()), scene, request=_request())
    assert (found.reports, found.flights) == ((), ())
