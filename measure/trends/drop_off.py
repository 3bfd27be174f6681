"""Within a set: how far the repetitions fall short of the best, and the last of the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from measure.types import Estimate, Floats, Refused

__all__ = ["DropOff", "measure_drop_off"]


@dataclass(frozen=True, slots=True)
class DropOff:
    """Losses in percent, positive where the set got worse."""

    decrement_pct: Estimate
    """Mean of all repetitions against the best one."""
    last_to_first_pct: Estimate
    """Last repetition against the first one."""


def measure_drop_off(
    repetitions: Sequence[Estimate], *, more_is_better: bool = True
) -> DropOff | Refused:
    """Measure how a set fell off.

    Parameters
    ----------
    repetitions : sequence of Estimate
        In their order, positive, all of one kind.
    more_is_better : bool
        False for times.

    Returns
    -------
    DropOff or Refused
        Refused for fewer than three repetitions or numbers that are not positive.

    Notes
    -----
    For times 100 (sum t / (n t_best) - 1) and 100 (last - first) / first; for heights the same
    with the sign turned. To be shown, not judged: over repeated sprints such numbers vary by 39 %
    between days while best and mean vary by 1 % (J Sports Sci Med 8(1), repeated sprints). The
    stated doubt is that of measuring only.
    """
    if len(repetitions) < 3:
        return Refused(
            "drop-off", f"The set has {len(repetitions)} measured repetitions.",
            "Film three repetitions or more of the set.",
        )  # fmt: skip
    if min(each.value for each in repetitions) <= 0:
        return Refused(
            "drop-off", "A repetition's number is not above nought.",
            "Look at that repetition, and reject it where it is wrong.",
        )  # fmt: skip
    values = np.array([each.value for each in repetitions])
    sigmas = np.array([each.sigma for each in repetitions])
    best = int(values.argmax() if more_is_better else values.argmin())
    sign = -1.0 if more_is_better else 1.0
    to_mean = np.full(values.size, 1 / values.size)
    to_last = np.eye(values.size)[-1]
    return DropOff(
        decrement_pct=_loss_pct(values, sigmas, weights=to_mean, base=best, sign=sign),
        last_to_first_pct=_loss_pct(values, sigmas, weights=to_last, base=0, sign=sign),
    )


def _loss_pct(
    values: Floats, sigmas: Floats, *, weights: Floats, base: int, sign: float
) -> Estimate:
    share = float(weights @ values / values[base])
    slopes = weights / values[base]
    slopes[base] -= share / values[base]
    return Estimate(100 * sign * (share - 1), 100 * float(np.sqrt((slopes**2 * sigmas**2).sum())))
