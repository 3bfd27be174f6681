"""Parabolas side by side have the misfits that they have one after the other."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.fall_fits import fit_parabola, misfits_of

OUTLIER_SIGMAS = 2.0


@pytest.mark.parametrize("with_extra", [False, True])
@pytest.mark.parametrize("count", [8, 15, 120])
def test_many_fits_misfit_as_each_alone(count: int, with_extra: bool) -> None:
    random = np.random.default_rng(count)
    times = np.linspace(0, 0.5, count) + random.normal(0, 1e-3, (20, count))
    heights = 300 + 700 * times[0] - 1300 * times[0] ** 2 + random.normal(0, 1.5, count)
    heights[count // 3] += 40.0
    extra = np.maximum(times - 0.2, 0.0) if with_extra else None
    together = misfits_of(times, heights, outlier_sigmas=OUTLIER_SIGMAS, extra=extra)
    alone = [
        fit_parabola(
            one, heights, outlier_sigmas=OUTLIER_SIGMAS,
            extra=None if extra is None else extra[number],
        ).misfit
        for number, one in enumerate(times)
    ]  # fmt: skip
    assert together == pytest.approx(alone, rel=1e-6)
    assert np.ptp(together) > 0


def test_a_column_that_says_nothing_breaks_no_fit() -> None:
    times = np.linspace(0, 0.5, 20)
    heights = 700 * times - 1300 * times**2
    nothing = np.zeros((1, 20))
    assert misfits_of(times[None], heights, outlier_sigmas=OUTLIER_SIGMAS, extra=nothing) < 1e-9
