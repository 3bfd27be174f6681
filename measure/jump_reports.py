"""From flights, heights and movement to the report's jumps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from calibration.values import Estimate, Refused
from measure.clock import lands_lower
from measure.contacts.coarse import CoarseFlight
from measure.contacts.segment import Segmentation
from measure.jumps import JumpHeights, measure_jumps
from measure.movement import JumpMovement, Movement, assess_movement
from measure.physics import contact_time, flight_time, reactive_strength
from measure.report import JumpReport
from measure.request import ClipRequest
from measure.scene import Scene
from measure.types import Flight

LEAST_FALL_SHARE = 0.8
"""Of gravity: the hips of one who was thrown and lands lower fall faster than this."""


@dataclass(frozen=True, slots=True)
class MeasuredJumps:
    """Everything the flights of one clip gave."""

    flights: tuple[Flight, ...]
    """Those that rise, in order; one for each report."""
    reports: tuple[JumpReport, ...]
    movement: Movement
    refusals: tuple[Refused, ...]
    untimed_s: tuple[tuple[float, float], ...]
    """Jumps that were seen and not timed, start and end as poses have them."""


def report_jumps(
    segmentation: Segmentation, scene: Scene, *, request: ClipRequest
) -> MeasuredJumps:
    """Measure every flight that rises.

    A drop from a box only begins a contact, a hop that saves a balance belongs to its landing.

    Parameters
    ----------
    segmentation : Segmentation
    scene : Scene
    request : ClipRequest

    Returns
    -------
    MeasuredJumps
    """
    rising = [flight for flight in segmentation.flights if _rises(flight, scene)]
    slowed = [flight for flight in rising if _changes_tempo(flight, scene, request)]
    flights = tuple(flight for flight in rising if flight not in slowed)
    untimed_s = (*segmentation.untimed_s, *(flight.coarse_s for flight in slowed))
    movement = assess_movement(
        scene.track, time_s=scene.time_s, flights=flights, contacts=segmentation.contacts,
        scale=scene.scale, named=request.exercise, untimed_s=untimed_s,
    )  # fmt: skip
    heights = measure_jumps(
        flights, track=scene.track, time_s=scene.time_s, scale=scene.scale,
        gravity_mps2=scene.gravity_mps2,
    )  # fmt: skip
    kept = [
        (flight, _report(flight, height, moved, gravity_mps2=scene.gravity_mps2))
        for flight, height, moved in zip(flights, heights, movement.jumps, strict=True)
        if not moved.is_saving_hop
    ]
    refusals = (
        *segmentation.refusals, *map(_slowed, slowed), *_height_refusals(heights),
        *movement.refusals,
    )  # fmt: skip
    return MeasuredJumps(
        tuple(flight for flight, _ in kept), tuple(report for _, report in kept), movement,
        tuple(dict.fromkeys(refusals)), untimed_s,
    )  # fmt: skip


def _rises(flight: Flight, scene: Scene) -> bool:
    slow = scene.clock.time_base.file_s_per_s
    return any(
        rough.is_jump and not _comes_off_a_box(rough, scene)
        for rough in scene.flights if rough.start_s / slow == flight.coarse_s[0]
    )  # fmt: skip


def _comes_off_a_box(rough: CoarseFlight, scene: Scene) -> bool:
    """Tell a step down, seen too long, from a jump that ends nearer to the camera, and so lower.

    While one foot still stands on the box the hips hardly fall.
    """
    falls_freely = scene.gravity_share(rough) >= LEAST_FALL_SHARE
    stature_px = scene.heights.stature_px
    return not falls_freely and lands_lower(rough, scene.track, stature_px=stature_px)


def _changes_tempo(flight: Flight, scene: Scene, request: ClipRequest) -> bool:
    """Tell whether the clip seems to change its speed in this very flight."""
    slow = scene.clock.time_base.file_s_per_s
    start_s, end_s = (slow * edge_s for edge_s in flight.coarse_s)
    return request.capture_rate_hz is None and any(
        fall.changes_tempo and fall.start_file_s < end_s and fall.end_file_s > start_s
        for fall in scene.clock.falls
    )


def _slowed(flight: Flight) -> Refused:
    return Refused(
        what=f"jump at {flight.coarse_s[0]:.2f} s",
        reason="the clip seems to change its speed in the middle of this flight",
        hint="Use the file as the camera wrote it, or give the rate at which it was captured.",
    )


def _height_refusals(heights: Sequence[JumpHeights]) -> list[Refused]:
    return [
        value
        for jump in heights
        for value in (jump.height_com, jump.height_standing)
        if isinstance(value, Refused)
    ]


def _report(
    flight: Flight, heights: JumpHeights, moved: JumpMovement, *, gravity_mps2: float
) -> JumpReport:
    in_the_air = flight_time(flight)
    contact = rsi = None
    if moved.touchdown is not None:
        contact = contact_time(moved.touchdown, flight)
        rsi = reactive_strength(moved.touchdown, flight, gravity_mps2=gravity_mps2)
    return JumpReport(
        take_off_s=flight.take_off.time_s, take_off_sigma_s=flight.take_off.sigma_s,
        landing_s=flight.landing.time_s, landing_sigma_s=flight.landing.sigma_s,
        flight_time_s=in_the_air.value, flight_time_sigma_s=in_the_air.sigma,
        height_m=heights.height.value, height_sigma_m=heights.height.sigma,
        height_com_m=_value(heights.height_com), height_com_sigma_m=_sigma(heights.height_com),
        height_standing_m=_value(heights.height_standing),
        height_standing_sigma_m=_sigma(heights.height_standing),
        contact_time_s=_value(contact), contact_time_sigma_s=_sigma(contact),
        rsi_mps=_value(rsi), rsi_sigma_mps=_sigma(rsi),
        take_off_side=flight.take_off_side, landing_side=flight.landing_side,
        turn_deg=_value(moved.turn_deg), turn_sigma_deg=_sigma(moved.turn_deg),
        landing=moved.landing,
    )  # fmt: skip


def _value(number: Estimate | Refused | None) -> float | None:
    return number.value if isinstance(number, Estimate) else None


def _sigma(number: Estimate | Refused | None) -> float | None:
    return number.sigma if isinstance(number, Estimate) else None
