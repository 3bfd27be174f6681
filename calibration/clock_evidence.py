"""What is known about a clip's clock, gathered before it is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calibration.capture_rates import nearest_capture_rate
from calibration.clock_odds import ASSUMED_STATURE_M, OddsSettings
from calibration.falls import Fall
from calibration.gravity_clock import (
    GravityClockSettings,
    GravityReading,
    allows_factor,
    read_gravity_clock,
)
from calibration.repeats import Repeats
from calibration.values import Scale

Floats = NDArray[np.float64]

CHILD_BELOW = 0.93
"""Below this reading the evidence says which stature real time would mean."""


@dataclass(frozen=True, slots=True)
class ClockEvidence:
    """All that is known about a clip's clock beside its stamps."""

    capture_rate_tag_hz: float | None = None
    """What the file notes as its capture rate."""
    playback_intent: int | None = None
    """1: meant to be played at full rate, 0: as slow motion."""
    edit_rate_not_one: bool = False
    """The file's edit list asks for another playing speed."""
    falls: tuple[Fall, ...] = ()
    """Every flight with enough pictures, distinct ones only."""
    ruler: Scale | None = None
    """Metres per pixel at the athlete from stature or a reference length, never from gravity."""
    ruler_assumed: bool = False
    """The ruler rests on a stature that nobody gave (1.70 m, sigma 0.10 m)."""
    repeats: Repeats | None = None
    asked_capture_rate_hz: float | None = None
    """What a person says; it overrules."""

    def __post_init__(self) -> None:
        for name in ("capture_rate_tag_hz", "asked_capture_rate_hz"):
            rate = getattr(self, name)
            if rate is not None and not (math.isfinite(rate) and rate > 0):
                raise ValueError(f"{name}: expected a rate > 0, got {rate}")
        if self.ruler is not None and self.ruler.source == "gravity":
            raise ValueError("ruler: expected one from stature or reference, got gravity's own")


@dataclass(frozen=True, slots=True)
class TimeBaseSettings:
    """Tunables of `fit_time_base`."""

    surest: float = 0.95
    """Probability that a clock needs."""
    sure_enough: float = 0.80
    """... when the flights are too short to tell more, and nothing but them speaks against it."""
    farthest_sigmas: float = 2.4
    """A clock farther from gravity's reading is not accepted, whatever its probability."""
    slowest_real_time: float = 1.08
    """A clear reading above this is never real time. Real-time films read 0.92 to 1.07, and an
    editor's 90 % speed must not pass."""
    largest_stray_m: float = 0.02
    """Without a clear flight, one that strays farther from a parabola leaves the clock open."""
    least_real_time: float = 0.86
    """With a stature given, a clear reading below this is never real time. Nobody speeds a clip up
    a little, so down to here it is rather the stature that is wrong."""
    clear_sigma: float = 0.10
    """A reading with a larger relative sigma does not count as a check."""
    repeated_share: float = 0.10
    """From this share on, repeats are more than a phone's occasional slip."""
    flights_to_outvote: int = 4
    """So many clean flights on one clock outweigh one that seems to change its tempo."""
    longest_flight_s: float = 0.95
    shortest_flight_s: float = 0.06
    """No jump lasts longer; and the longest flight of a clip is no shorter."""
    tag_tolerance: float = 0.03
    gravity: GravityClockSettings = field(default_factory=GravityClockSettings)
    odds: OddsSettings = field(default_factory=OddsSettings)


@dataclass(frozen=True, slots=True)
class ClockCase:
    """One clip before the judge."""

    rate_hz: float
    """Distinct pictures per second of file time."""
    evidence: ClockEvidence
    reading: GravityReading | None
    notes: tuple[str, ...]
    settings: TimeBaseSettings
    gravity_mps2: float

    @property
    def tag_factor(self) -> float | None:
        """Times slow that the file's note asks for; whole where both rates are standard."""
        tag = self.evidence.capture_rate_tag_hz
        if tag is None:
            return None
        tag_rate = nearest_capture_rate(tag) or tag
        return tag_rate / (nearest_capture_rate(self.rate_hz) or self.rate_hz)

    @property
    def clear(self) -> bool:
        """Gravity's reading is fine enough to count as a check."""
        return self.reading is not None and self.reading.sigma <= self.settings.clear_sigma

    @property
    def shortest_factor(self) -> float:
        """Least slow that leaves every flight physically possible."""
        longest = max((fall.duration_file_s for fall in self.evidence.falls), default=0.0)
        return longest / self.settings.longest_flight_s

    @property
    def longest_factor(self) -> float:
        """Most slow that leaves the longest flight physically possible."""
        longest = max((fall.duration_file_s for fall in self.evidence.falls), default=math.inf)
        return longest / self.settings.shortest_flight_s

    def possible(self, factor: float) -> bool:
        """Tell whether flights of this clip can have lasted as long as this factor makes them."""
        if not 0.98 * self.shortest_factor <= factor <= self.longest_factor:
            return False
        ruler = self.evidence.ruler
        if ruler is None or self.clear:
            return True
        return all(
            allows_factor(
                fall,
                factor,
                ruler=ruler,
                gravity_mps2=self.gravity_mps2,
                settings=self.settings.gravity,
            )
            for fall in self.evidence.falls
        )

    @property
    def stray_m(self) -> float:
        """How far the worst flight that is no parabola strays from one."""
        if self.evidence.ruler is None:
            return 0.0
        strays = (f.residual_px for f in self.evidence.falls if not f.is_parabola)
        return self.evidence.ruler.m_per_px * max(strays, default=0.0)


def open_case(
    stamps: Floats, evidence: ClockEvidence, settings: TimeBaseSettings, gravity_mps2: float
) -> ClockCase:
    """Gather what speaks for and against a clock, with a sentence for each.

    Parameters
    ----------
    stamps : ndarray of shape (T,)
        Stamps of all pictures in file seconds.
    evidence : ClockEvidence
    settings : TimeBaseSettings
    gravity_mps2 : float

    Returns
    -------
    ClockCase
    """
    if stamps.ndim != 1 or stamps.size < 2 or not np.all(np.diff(stamps) > 0):
        raise ValueError("stamps_file_s: expected at least two increasing times")
    rate_hz = 1 / _usual_interval(stamps)
    notes = [f"The file shows {rate_hz:.2f} pictures a second."]
    repeats = evidence.repeats
    if repeats is not None and repeats.share > settings.repeated_share:
        rate_hz /= repeats.showings
        notes.append(
            f"{repeats.share:.0%} of them repeat the one before, so {rate_hz:.2f} are different."
        )
    if evidence.capture_rate_tag_hz is not None:
        notes.append(f"The file notes a capture rate of {evidence.capture_rate_tag_hz:.6g} Hz.")
    if evidence.playback_intent is not None:
        meant = "slow motion" if evidence.playback_intent == 0 else "full rate"
        notes.append(f"The camera meant the clip to be played at {meant}.")
    if evidence.edit_rate_not_one:
        notes.append("The file asks for another playing speed than 1.")
    reading = None
    if evidence.ruler is not None:
        reading = read_gravity_clock(
            evidence.falls, ruler=evidence.ruler, gravity_mps2=gravity_mps2,
            settings=settings.gravity,
        )  # fmt: skip
    notes.extend(_gravity_notes(evidence, reading))
    return ClockCase(rate_hz, evidence, reading, tuple(notes), settings, gravity_mps2)


def _usual_interval(stamps: Floats) -> float:
    """Mean of the ordinary intervals: gaps left out, and not rounded to the file's ticks."""
    intervals = np.diff(stamps)
    median = float(np.median(intervals))
    return float(intervals[np.abs(intervals - median) <= 0.5 * median].mean())


def _gravity_notes(evidence: ClockEvidence, reading: GravityReading | None) -> list[str]:
    notes = [
        f"A picture is missing at {fall.missing_at_file_s:.3f} s of file time: the stamps hide "
        f"{fall.missing_file_s * 1000:.0f} ms of the flight."
        for fall in evidence.falls
        if fall.missing_at_file_s is not None
    ]
    if reading is None:
        return [*notes, "Gravity could not check the clock: no flight shows enough pictures."]
    if evidence.ruler_assumed and reading.factor < CHILD_BELOW:
        stature_m = ASSUMED_STATURE_M * reading.factor**2
        notes.append(f"In real time the athlete would be about {stature_m:.2f} m tall.")
    return [*notes, _what_gravity_says(reading, ruler_assumed=evidence.ruler_assumed)]


def _what_gravity_says(reading: GravityReading, *, ruler_assumed: bool) -> str:
    assumed = f"a stature of {ASSUMED_STATURE_M:.2f} m assumed"
    basis = assumed if ruler_assumed else "the scale given"
    falls = "the fall in one flight"
    if len(reading.flights) > 1:
        each = ", ".join(f"{factor:.2f}" for factor in reading.flight_factors)
        falls = f"the fall in each of {len(reading.flights)} flights ({each})"
    return (
        f"With {basis}, gravity says that one real second lasts {reading.factor:.2f} ± "
        f"{reading.factor * reading.sigma:.2f} s in the file, by {falls}."
    )
