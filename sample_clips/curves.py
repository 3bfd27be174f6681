"""Courses over time: keyed angles and the path of the centre of mass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BPoly, PchipInterpolator

Floats = NDArray[np.float64]
GRAVITY_MPS2 = 9.80665
FALL_MPS2 = np.array([0.0, -GRAVITY_MPS2, 0.0])
FOREVER_S = 60.0


@dataclass(frozen=True)
class Keyed:
    """A number over time through given values, without overshoot; constant outside them."""

    times_s: tuple[float, ...]
    values: tuple[float, ...]

    def __call__(self, time_s: Floats) -> Floats:
        """Values at the times, of the same shape."""
        if len(self.times_s) == 1:
            return np.full(time_s.shape, self.values[0])
        inside = np.clip(time_s, self.times_s[0], self.times_s[-1])
        course: Floats = PchipInterpolator(self.times_s, self.values)(inside)
        return course


def constant(value: float) -> Keyed:
    """A number that stays."""
    return Keyed((0.0,), (value,))


@dataclass(frozen=True)
class Knot:
    """Place, velocity and acceleration of the centre of mass at one time."""

    time_s: float
    place_m: Floats
    velocity_mps: Floats
    acceleration_mps2: Floats

    def fly(self, duration_s: float) -> Knot:
        """Where a free fall from here leads."""
        return Knot(
            self.time_s + duration_s,
            self.place_m + self.velocity_mps * duration_s + FALL_MPS2 * duration_s**2 / 2,
            self.velocity_mps + FALL_MPS2 * duration_s,
            FALL_MPS2,
        )


def still(time_s: float, place_m: Sequence[float] | Floats) -> Knot:
    """A knot at rest."""
    return Knot(time_s, np.asarray(place_m, float), np.zeros(3), np.zeros(3))


class MassPath:
    """Path of the centre of mass: quintics between knots, at rest before and after.

    Between two knots that a free fall joins (`Knot.fly`) the quintic is that fall, to rounding.
    """

    def __init__(self, knots: Sequence[Knot]) -> None:
        first, last = knots[0], knots[-1]
        ends = [still(first.time_s - FOREVER_S, first.place_m), *knots]
        ends.append(still(last.time_s + FOREVER_S, last.place_m))
        states = [np.array([k.place_m, k.velocity_mps, k.acceleration_mps2]) for k in ends]
        self._path = BPoly.from_derivatives([k.time_s for k in ends], states)
        self.knots = tuple(knots)

    def place_m(self, time_s: Floats) -> Floats:
        """Places of shape (T, 3)."""
        return np.asarray(self._path(time_s))

    def velocity_mps(self, time_s: Floats) -> Floats:
        """Velocities of shape (T, 3)."""
        return np.asarray(self._path(time_s, nu=1))

    def acceleration_mps2(self, time_s: Floats) -> Floats:
        """Accelerations of shape (T, 3)."""
        return np.asarray(self._path(time_s, nu=2))


def smooth_step(share: Floats) -> Floats:
    """From 0 to 1 with no speed and no acceleration at either end."""
    u = np.clip(share, 0.0, 1.0)
    step: Floats = u**3 * (10 - 15 * u + 6 * u**2)
    return step
