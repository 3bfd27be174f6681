"""Decide which event fits to believe, and make one instant of all patches of a foot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.values import Refused
from measure.contacts.doubt import Bending, JudgeSettings, is_believable, sigma_of
from measure.contacts.event import FITTING, EventFit, fit_event
from measure.contacts.plan import EventPlan
from measure.contacts.trace import End, Trace
from measure.types import Floats, Foot, Instant

ENDS: tuple[End, End] = ("toe", "heel")


@dataclass(frozen=True, slots=True)
class FootEvent:
    """When one foot left or met the ground."""

    foot: Foot
    instant: Instant
    patch_count: int
    residual_m: float
    shared_s: float = 0.0
    """Part of the doubt that the other foot shares: toes of one athlete bend alike."""
    place_px: tuple[float, float, float, float] | None = None
    """Where it stood in the upright picture, left, top, right, bottom: the smallest patch of its
    toes at a take-off, the largest at a landing, behind which another shoe may be hidden."""


def time_foot(
    plan: EventPlan, traces: Sequence[Trace], *, px_per_m: float, interval_s: float,
    settings: JudgeSettings | None = None,
) -> FootEvent | Refused:  # fmt: skip
    """Time one foot's event from all its patches.

    Parameters
    ----------
    plan : EventPlan
    traces : sequence of Trace
        One per patch size that was found.
    px_per_m : float
    interval_s : float
        Time between distinct pictures.
    settings : JudgeSettings, optional

    Returns
    -------
    FootEvent or Refused
        Refused where no patch gives a believable fit; the pose's coarse time never stands in.
    """
    settings = settings or JudgeSettings()
    by_end: dict[End, FootEvent] = {}
    fits = [
        (fit, trace)
        for trace in traces
        if (fit := _fit(trace, plan, px_per_m=px_per_m, settings=settings)) is not None
    ]
    for end in ENDS:
        good = [
            (fit, sigma_of(fit, trace, plan, interval_s=interval_s, settings=settings))
            for fit, trace in fits
            if trace.end == end
            and is_believable(fit, trace, plan, interval_s=interval_s, settings=settings)
        ]
        if good:
            by_end[end] = (
                _bending_agreement(plan.foot, good, _bending(fits, interval_s, settings), settings)
                if plan.kind == "take_off"
                else _landing_agreement(plan.foot, good, settings)
            )
    place_px = _place_px(plan, traces)
    if "toe" in by_end:
        first = _first_end(by_end["toe"], by_end.get("heel"), settings)
        return replace(first, place_px=place_px)
    if "heel" in by_end and _toes_roll_down(fits, by_end["heel"], plan, settings):
        return replace(by_end["heel"], place_px=place_px)
    return unfollowed(plan)


def _place_px(plan: EventPlan, traces: Sequence[Trace]) -> tuple[float, float, float, float] | None:
    """Where the toes that left last stood, or the shoe that landed, in the upright picture."""
    masks = [trace.patch.mask for trace in traces if trace.end == "toe"]
    if not masks:
        return None
    mask = masks[0] if plan.kind == "take_off" else masks[-1]
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    left, top, right, _ = plan.box
    px = (right - left) / mask.shape[1]
    return (
        left + px * float(columns[0]), top + px * float(rows[0]),
        left + px * float(columns[-1] + 1), top + px * float(rows[-1] + 1),
    )  # fmt: skip


def unfollowed(plan: EventPlan) -> Refused:
    """Say that no patch gave a believable answer."""
    return Refused(
        what=f"{plan.foot} foot {plan.kind.replace('_', '-')} at {plan.coarse_s:.2f} s",
        reason="the shoe could not be followed cleanly against the ground there",
        hint="Film with more light, from closer, with shoes that stand out from the ground.",
    )


def _first_end(toe: FootEvent, heel: FootEvent | None, settings: JudgeSettings) -> FootEvent:
    """Take the heel's touchdown where it is clearly earlier, as in a landing heel first."""
    if heel is None or heel.patch_count < settings.fewest_heel_patches:
        return toe
    earlier_s = toe.instant.time_s - heel.instant.time_s
    sigma_s = math.hypot(toe.instant.sigma_s, heel.instant.sigma_s)
    clear = 2 * sigma_s < earlier_s < settings.longest_roll_s
    return heel if clear else toe


def _toes_roll_down(
    fits: Sequence[tuple[EventFit, Trace]], heel: FootEvent, plan: EventPlan,
    settings: JudgeSettings,
) -> bool:  # fmt: skip
    """Tell toes that are too slow for a landing since they come down after the heel stands."""
    slow_mps = settings.landing_speed_shares[0] * plan.speed_mps
    rolling = [
        fit
        for fit, trace in fits
        if trace.end == "toe" and fit.time_s > heel.instant.time_s and fit.speed_mps < slow_mps
    ]
    fewest = settings.fewest_heel_patches
    return len(rolling) >= fewest and heel.patch_count >= fewest


def _fit(
    trace: Trace, plan: EventPlan, *, px_per_m: float, settings: JudgeSettings
) -> EventFit | None:
    usual = FITTING[plan.kind]
    if plan.flight is None:
        usual = replace(
            usual, speed_share=1.0, speed_share_sigma=settings.step_speed_share_sigma,
            bend_mps2=0.0, bend_sigma_mps2=settings.refit_bend_sigma_mps2,
        )  # fmt: skip
    fit = fit_event(
        trace, kind=plan.kind, speed_mps=plan.speed_mps, px_per_m=px_per_m, settings=usual
    )
    if fit is None or fit.residual_m <= settings.refit_residual_m:
        return fit
    # The usual speed does not fit: let speed and curvature go where the pictures lead.
    wide = replace(
        usual, speed_share=0.8, speed_share_sigma=settings.refit_speed_share_sigma,
        bend_mps2=-2.0, bend_sigma_mps2=settings.refit_bend_sigma_mps2,
        contact_sigma_m=0.02, drift_m=1e-6, still_s=0.05,
    )  # fmt: skip
    other = fit_event(
        trace, kind=plan.kind, speed_mps=plan.speed_mps, px_per_m=px_per_m, settings=wide
    )
    if other is None or other.residual_m >= 0.6 * fit.residual_m:
        return fit
    if other.speed_mps < 0.25 * plan.speed_mps:
        return fit
    disagreement_s = 0.5 * abs(other.time_s - fit.time_s)
    return replace(other, sigma_s=math.hypot(other.sigma_s, disagreement_s))


def _bending(
    fits: Sequence[tuple[EventFit, Trace]], interval_s: float, settings: JudgeSettings
) -> Bending:
    """How a foot seen as these traces see it is drawn on to its tip."""
    unseen_s = settings.take_off_bend_per_s * interval_s**2
    if any(trace.direction for _, trace in fits):
        unbent_s = max(settings.unbent_s, settings.unbent_per_s * interval_s**2)
        return Bending(unseen_s, unbent_s, settings.tip_later_share)
    unseen_s = math.hypot(unseen_s, settings.front_rise_per_s * interval_s**2)
    unbent_s = max(settings.front_unbent_s, settings.front_unbent_per_s * interval_s**2)
    return Bending(unseen_s, unbent_s, settings.front_later_share)


def _bending_agreement(
    foot: Foot, good: Sequence[tuple[EventFit, float]], bending: Bending, settings: JudgeSettings
) -> FootEvent:
    """Agreement of take-offs, smallest patch first.

    Toes that bend leave last, and the more of the foot a patch holds the earlier it goes: each is
    doubted by how much a smaller one goes later. The smallest still holds some of the foot, so
    the tip leaves later still, by a share of what the largest lacks, and by one of what is left
    of doubt.
    """
    doubted, latest_s = [], -math.inf
    for fit, sigma_s in good:
        latest_s = max(latest_s, fit.time_s)
        doubted.append((fit, math.hypot(sigma_s, latest_s - fit.time_s)))
    event = _agreement(foot, doubted, settings.agree_s, settings.lone_take_off_factor)
    apart_s = min(latest_s - good[-1][0].time_s, settings.most_bend_s)
    drawn_on_s = bending.later_share * max(0.0, apart_s - bending.unbent_s)
    sigma_s = event.instant.sigma_s
    early_s = min(settings.early_share * sigma_s, settings.early_at_most_s)
    instant = Instant(event.instant.time_s + drawn_on_s + early_s, sigma_s)
    return replace(event, instant=instant, shared_s=bending.unseen_s)


def _landing_agreement(
    foot: Foot, good: Sequence[tuple[EventFit, float]], settings: JudgeSettings
) -> FootEvent:
    """Agreement of landings: slow films leave each patch so unsure that good ones lie apart."""
    sigmas = [sigma_s for _, sigma_s in good]
    agree_s = np.clip(np.hypot.outer(sigmas, sigmas), settings.agree_s, settings.agree_at_most_s)
    return _agreement(foot, good, agree_s, settings.lone_landing_factor)


def _agreement(
    foot: Foot, good: Sequence[tuple[EventFit, float]], agree_s: float | Floats, lone_factor: float
) -> FootEvent:
    """Weighted mean of the patches that agree with most of the others.

    How near two of them must be for that is one number or one for each pair, shape (P, P).
    """
    times = np.array([fit.time_s for fit, _ in good])
    sigmas = np.array([sigma for _, sigma in good])
    weights = 1 / sigmas**2
    agree = np.abs(np.subtract.outer(times, times)) < agree_s
    agreeing = agree[int(np.argmax(agree @ weights))]
    times, sigmas, weights = times[agreeing], sigmas[agreeing], weights[agreeing]
    time_s = float((weights * times).sum() / weights.sum())
    sigma_s = math.hypot(float(sigmas.min()), 0.7 * float(times.std()))
    if times.shape[0] == 1:
        sigma_s *= lone_factor
    residual_m = min(fit.residual_m for fit, _ in good)
    return FootEvent(foot, Instant(time_s, sigma_s), int(times.shape[0]), residual_m)
