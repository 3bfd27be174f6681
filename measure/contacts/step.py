"""When the foot of a step meets the ground: heel or toe, at a speed that the pose hardly knows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from calibration.values import Refused
from measure.contacts.judge import ENDS, FootEvent, time_foot, unfollowed
from measure.contacts.plan import EventPlan
from measure.contacts.trace import End, Trace

__all__ = ["StepSettings", "time_step_landing"]


@dataclass(frozen=True, slots=True)
class StepSettings:
    """What is known of a step before its pictures are looked at."""

    usual_speeds_mps: tuple[float, ...] = (0.8, 1.3)
    """Speeds at which heels meet the ground in a step, tried beside the pose's own guess, which
    smoothing makes too slow."""
    fewest_patches: int = 2
    """Where only one end gives an answer and poses saw the foot come down slowly, which may be
    their own shaking: a lone patch backs that by chance."""
    sure_speed_mps: float = 0.9
    """A foot that comes down faster was up."""
    longest_roll_s: float = 0.06
    """From the heel's touchdown until the toes are down; more is no roll."""


def time_step_landing(
    plan: EventPlan, traces: Sequence[Trace], *, px_per_m: float, interval_s: float,
    settings: StepSettings | None = None,
) -> FootEvent | Refused:  # fmt: skip
    """Time a step's touchdown by whichever end of the foot is down first.

    Parameters
    ----------
    plan : EventPlan
        Of the landing of a single foot outside a flight.
    traces : sequence of Trace
        Of toe and heel.
    px_per_m : float
    interval_s : float
        Time between distinct pictures.
    settings : StepSettings, optional

    Returns
    -------
    FootEvent or Refused
        Refused where neither end gives a believable fit.

    Notes
    -----
    Walking steps land on the heel and roll down within some hundredths of a second, so the heel
    counts as soon as it is likelier to be first. *When this is wrong*: a foot that is put down
    with hardly any speed has no clear touchdown; its doubt does not say by how much.
    """
    settings = settings or StepSettings()
    toe, heel = (
        _time_end(end, plan, traces, px_per_m=px_per_m, interval_s=interval_s, settings=settings)
        for end in ENDS
    )
    if isinstance(heel, FootEvent) and isinstance(toe, FootEvent):
        return _first_down(toe, heel, settings)
    only = toe if isinstance(heel, Refused) else heel
    alone = isinstance(only, FootEvent) and only.patch_count < settings.fewest_patches
    if alone and plan.speed_mps < settings.sure_speed_mps:
        return unfollowed(plan)
    return only


def _time_end(
    end: End, plan: EventPlan, traces: Sequence[Trace], *, px_per_m: float, interval_s: float,
    settings: StepSettings,
) -> FootEvent | Refused:  # fmt: skip
    """Give the sharpest answer over the speeds that a step may have."""
    mine = [replace(trace, end=ENDS[0]) for trace in traces if trace.end == end]
    speeds_mps = (plan.speed_mps, *settings.usual_speeds_mps)
    answers = [
        time_foot(
            replace(plan, speed_mps=speed_mps), mine, px_per_m=px_per_m, interval_s=interval_s
        )
        for speed_mps in speeds_mps
    ]
    timed = [answer for answer in answers if isinstance(answer, FootEvent)]
    if not timed:
        return answers[0]
    return min(timed, key=lambda event: event.instant.sigma_s)


def _first_down(toe: FootEvent, heel: FootEvent, settings: StepSettings) -> FootEvent:
    """Take the earlier end where that is clear, else the one that is sharper."""
    earlier_s = toe.instant.time_s - heel.instant.time_s
    sigma_s = math.hypot(toe.instant.sigma_s, heel.instant.sigma_s)
    if sigma_s < earlier_s < settings.longest_roll_s:
        return heel
    if abs(earlier_s) > sigma_s:
        return toe
    return min((toe, heel), key=lambda event: event.instant.sigma_s)
