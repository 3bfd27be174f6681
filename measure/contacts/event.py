"""One likelihood per foot event: still on the floor until an instant, moving freely after it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.contacts.heights import (
    Heights,
    find_jolt,
    find_near_speed,
    find_sinking,
    guess_instant,
    read_heights,
    trust_pictures,
)
from measure.contacts.plan import EventKind
from measure.contacts.trace import Trace
from measure.types import Floats

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class EventSettings:
    """Priors of one kind of event; speeds as shares of the body's speed at the event."""

    still_s: float
    """How much standing is looked at."""
    move_s: float
    """How much movement is looked at."""
    speed_share: float
    speed_share_sigma: float
    bend_mps2: float = -5.0
    """Half the acceleration of the foot once it is free; its free fall gives -4.9."""
    bend_sigma_mps2: float = 6.0
    drift_m: float = 0.004
    """Slow movement allowed in the last 40 ms before the foot leaves."""
    drift_s: float = 0.040
    contact_sigma_m: float = 0.025
    """How well the point of the shoe that stands last (or first) is known beforehand."""
    lag_s: float = 0.0
    """The toe gathers speed over this time; 0 where it starts or stops at once."""
    height_noise_m: float = 0.0012
    least_noise_share: float = 1.0
    """Pictures may be cleaner than that noise, but a dozen of them don't prove more."""
    side_noise_m: float = 0.002
    fewest_still: int = 2
    fewest_moving: int = 3
    step_s: float = 0.0005


TAKE_OFF = EventSettings(
    still_s=0.035, move_s=0.060, speed_share=1.0, speed_share_sigma=0.12, bend_sigma_mps2=6.0,
    lag_s=0.0085, contact_sigma_m=0.012,
)  # fmt: skip
LANDING = EventSettings(
    still_s=0.050, move_s=0.070, speed_share=0.95, speed_share_sigma=0.20, bend_sigma_mps2=3.0,
    contact_sigma_m=0.03, least_noise_share=0.6,
)  # fmt: skip
FITTING: dict[EventKind, EventSettings] = {"take_off": TAKE_OFF, "landing": LANDING}


@dataclass(frozen=True, slots=True)
class EventFit:
    """The instant at which one patch says that one foot left or met the ground."""

    time_s: float
    sigma_s: float
    """Width of the likelihood, inflated by the misfit."""
    speed_mps: float
    """Speed of the foot just off the ground."""
    residual_m: float
    """Root mean square misfit of the heights."""
    below_floor_m: float
    """How far the foot seems to sink while standing; a slipped patch does."""
    jolt_m: float
    """Off the ground, how much its way from one picture to the next changed at most, gravity apart;
    a patch that lost its shoe jumps."""
    near_speed_mps: float
    """Between the two pictures next to the instant that show the foot free; NaN without them."""
    picture_count: int


def fit_event(
    trace: Trace, *, kind: EventKind, speed_mps: float, px_per_m: float, settings: EventSettings,
) -> EventFit | None:  # fmt: skip
    """Fit the instant of one event to the way of one patch.

    The model: one point of the shoe, unknown within a few centimetres, neither rises nor slides
    until the instant; after it the point rises as V f(tau) + q tau^2. V is near the speed of the
    body, f starts with slope 0 and reaches slope 1 after the lag. Landings are the mirror image.

    Parameters
    ----------
    trace : Trace
    kind : {"take_off", "landing"}
    speed_mps : float
        Speed at which the body leaves or meets the ground.
    px_per_m : float
    settings : EventSettings

    Returns
    -------
    EventFit or None
        None where the patch was not followed through the event.

    Notes
    -----
    Wrong where the foot bends inside the patch (bare toes roll off last), where the patch slid
    inside a plain shoe, and where a heel rise seen from the front turns the foot out of the
    picture plane: there the misfit grows and with it the sigma, but not always enough.
    """
    heights = read_heights(trace, kind=kind, px_per_m=px_per_m)
    guess = guess_instant(heights)
    if guess is None or heights.since_s.shape[0] < 5:
        return None
    interval_s = float(np.median(np.diff(np.sort(heights.since_s))))
    reach_s = max(1.6 * interval_s, 0.025)
    grid = np.arange(guess - reach_s, guess + reach_s, settings.step_s)
    model = _Model(heights, speed_mps, interval_s, settings)
    trusted = trust_pictures(heights, guess)
    _, misfit, shares = model.solve(guess, trusted)
    for _ in range(2):
        weights = trusted * _robust_weights(misfit, shares > 0, settings.height_noise_m)
        costs = model.costs(grid, weights)
        solution, misfit, shares = model.solve(float(grid[costs.argmin()]), weights)
    shares *= trusted
    free = max(float((shares**2).sum()) - 3, 1.0)
    residual = float(np.sqrt(((weights * shares * misfit) ** 2).sum() / free))
    inflation = max(settings.least_noise_share, residual / settings.height_noise_m)
    chance = np.exp(-0.5 * (costs - costs.min()) / inflation**2)
    chance /= chance.sum()
    instant = float((chance * grid).sum())
    spread = float((chance * (grid - instant) ** 2).sum())
    sigma = float(np.sqrt(spread + settings.step_s**2 / 12))
    return EventFit(
        time_s=instant if kind == "take_off" else -instant,
        sigma_s=sigma, speed_mps=float(solution[2]), residual_m=residual,
        below_floor_m=find_sinking(heights, instant),
        jolt_m=find_jolt(heights, instant, interval_s),
        near_speed_mps=find_near_speed(heights, instant, interval_s),
        picture_count=int((shares > 0).sum()),
    )  # fmt: skip


def _robust_weights(misfit: Floats, used: Flags, noise_m: float) -> Floats:
    spread = max(1.4826 * float(np.median(np.abs(misfit[used]))), noise_m)
    weights: Floats = np.sqrt(np.minimum(1.0, 2 * spread / np.maximum(np.abs(misfit), 1e-9)))
    return np.where(used, weights, 1.0)


class _Model:
    """Linear model for a given instant: place (2), speed, bend, drift."""

    def __init__(
        self, heights: Heights, speed_mps: float, interval_s: float, settings: EventSettings
    ) -> None:
        self.h, self.s, self.interval_s = heights, settings, interval_s
        self.still_s = max(settings.still_s, settings.fewest_still * interval_s)
        self.move_s = max(settings.move_s, settings.fewest_moving * interval_s)
        sigmas = np.array(
            [
                settings.contact_sigma_m, settings.contact_sigma_m,
                settings.speed_share_sigma * speed_mps, settings.bend_sigma_mps2, settings.drift_m,
            ]
        )  # fmt: skip
        means = np.array(
            [*heights.place_m, settings.speed_share * speed_mps, settings.bend_mps2, 0.0]
        )
        self.prior_rows, self.prior_rhs = np.diag(1 / sigmas), means / sigmas

    def costs(self, instants: Floats, weights: Floats) -> Floats:
        """Squared misfit in sigmas at each instant, less its expected value, shape (G,).

        The number of pictures that take part depends on the instant, hence the latter.
        """
        return self._solve(instants, weights)[0]

    def solve(self, instant: float, weights: Floats) -> tuple[Floats, Floats, Floats]:
        """Place, speed, bend and drift at one instant; misfit of each picture; its share."""
        _, solution, rows, shares = self._solve(np.array([instant]), weights)
        misfit: Floats = rows[0] @ solution[0] - self.h.rise_m
        return solution[0], misfit, shares[0]

    def _solve(self, instants: Floats, weights: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Costs, solutions, rows of the pictures and their shares, for all instants at once."""
        h, s = self.h, self.s
        tau = h.since_s - instants[:, None]
        shares = self._shares(tau)
        stood = np.where(tau <= 0, shares, 0.0)
        rows = self._rows(tau)
        weight = weights * shares / s.height_noise_m
        side = np.zeros((h.since_s.shape[0], 5))
        side[:, 0], side[:, 1] = h.cos_less_1, -h.sin
        side_weight = stood / s.side_noise_m
        count = len(instants)
        design = np.concatenate([
            rows * weight[..., None], side * side_weight[..., None],
            np.broadcast_to(self.prior_rows, (count, 5, 5)),
        ], axis=1)  # fmt: skip
        target = np.concatenate([
            h.rise_m * weight, -h.side_m * side_weight,
            np.broadcast_to(self.prior_rhs, (count, 5)),
        ], axis=1)[..., None]  # fmt: skip
        turned = design.swapaxes(1, 2)
        solution = np.linalg.solve(turned @ design, turned @ target)
        squared = ((design @ solution - target) ** 2).sum(axis=(1, 2))
        expected = (shares**2).sum(axis=1) + (stood**2).sum(axis=1)
        return squared - expected, solution[..., 0], rows, shares

    def _shares(self, tau: Floats) -> Floats:
        """How much each picture counts: less towards the ends of what is looked at.

        A picture that fell in or out at once would draw the instant to where it does.
        """
        standing = (tau + self.still_s) / self.interval_s + 1.0
        moving = (self.move_s - tau) / self.interval_s + 0.5
        return np.asarray(np.clip(standing, 0, 1) * np.clip(moving, 0, 1))

    def _rows(self, tau: Floats) -> Floats:
        """Each picture's rise as a linear function of place, speed, bend and drift."""
        free = np.maximum(tau, 0)
        lag = self.s.lag_s
        gathered = free - lag * (1 - np.exp(-free / lag)) if lag > 0 else free
        drift = np.clip((tau + self.s.drift_s) / self.s.drift_s, 0, 1) ** 2
        place = [np.broadcast_to(one, tau.shape) for one in (self.h.sin, self.h.cos_less_1)]
        rows: Floats = np.stack([*place, gathered, free**2, drift], axis=-1)
        return rows
