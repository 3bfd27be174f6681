"""Decide how a file's seconds become real seconds, from all that is known about the clip.

No single witness decides: stamps, the capture rate noted in the file, repeated pictures and the
fall in each flight are weighed together. What stays unclear is refused.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calibration.capture_rates import SlowFactor, slow_factors
from calibration.clock_evidence import ClockCase, ClockEvidence, TimeBaseSettings, open_case
from calibration.clock_odds import Verdict, weigh_clocks
from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.gravity_clock import GravityReading
from calibration.repeats import Repeats
from calibration.values import Refused, TimeBase

__all__ = ["ClockEvidence", "TimeBaseSettings", "fit_time_base"]

Floats = NDArray[np.float64]

ORIGINAL = (
    "Use the file as the camera wrote it (not exported, trimmed or slowed), or give the rate at "
    "which it was captured."
)
STATURE = "Give the athlete's stature, so that gravity can decide, or the capture rate."


def fit_time_base(
    stamps_file_s: Floats,
    *,
    evidence: ClockEvidence,
    settings: TimeBaseSettings | None = None,
    gravity_mps2: float = STANDARD_GRAVITY_MPS2,
) -> TimeBase:
    """Decide the clip's clock.

    Parameters
    ----------
    stamps_file_s : ndarray of shape (T,)
        Stamps of all pictures, at least two, increasing.
    evidence : ClockEvidence
    settings : TimeBaseSettings, optional
    gravity_mps2 : float

    Returns
    -------
    TimeBase
        ``refused`` where the evidence contradicts itself or leaves two clocks open.
        ``checked_by_gravity`` is False where no flight could confirm the clock.

    Notes
    -----
    *When this is wrong*: a factor within about 5 % of 1 (25 pictures a second played at 24)
    can't be told from an error of scale. Without a flight, sections slowed by blending pictures
    stay unseen.
    """
    settings = settings or TimeBaseSettings()
    case = open_case(stamps_file_s, evidence, settings, gravity_mps2)
    if evidence.asked_capture_rate_hz is not None:
        return _as_asked(case, evidence.asked_capture_rate_hz)
    objection = _two_clocks(case)
    if objection is not None:
        return _refused(case, objection, ORIGINAL)
    if case.reading is not None:
        return _by_gravity(case, case.reading)
    return _without_gravity(case)


def _as_asked(case: ClockCase, asked_hz: float) -> TimeBase:
    factor = asked_hz / case.rate_hz
    factor = 1.0 if abs(factor - 1) < 0.012 else factor
    notes = [*case.notes, f"The capture rate was given as {asked_hz:.6g} Hz."]
    agrees = False
    if case.reading is not None:
        off = abs(math.log(case.reading.factor / factor)) / case.reading.sigma
        agrees = off <= case.settings.farthest_sigmas
        if not agrees:
            notes.append("Gravity contradicts the rate given.")
    if case.reading is not None and case.reading.disagree:
        notes.append("The flights lie on different clocks: times may be wrong in part of them.")
    checked = agrees and case.clear
    return _decided(case, factor, tuple(notes), checked=checked)


def _two_clocks(case: ClockCase) -> str | None:
    """Say what shows that one factor can't be right for the whole clip."""
    if case.reading is not None and case.reading.disagree:
        low, high = min(case.reading.flight_factors), max(case.reading.flight_factors)
        return (
            f"By gravity, one real second lasts {low:.1f} s of the file in some flights and "
            f"{high:.1f} s in others."
        )
    if not _keeps_tempo(case):
        return "The clip changes its speed in the middle of a flight."
    if not case.clear and case.stray_m > case.settings.largest_stray_m:
        return "The body's path in flight is no free fall."
    repeats = case.evidence.repeats
    if repeats is not None and repeats.mixed and not _gravity_in_every_cadence(case, repeats):
        return "Pictures are repeated in parts of the clip only, as in a clip slowed in parts."
    return None


def _keeps_tempo(case: ClockCase) -> bool:
    """Tell whether no flight changes its tempo, or so few that the clip's clock stands.

    One path in many is bent by arms or a lost track. A clip that is slowed shows it in the flights
    around it too, and they have been found to agree.
    """
    changing = sum(fall.changes_tempo for fall in case.evidence.falls)
    if not changing:
        return True
    clean = 0 if case.reading is None else len(case.reading.flights)
    return case.clear and clean >= case.settings.flights_to_outvote * changing


def _gravity_in_every_cadence(case: ClockCase, repeats: Repeats) -> bool:
    """Tell whether a flight in each kind of section fits real time."""
    if case.reading is None or not case.clear:
        return False
    rounded = {round(section.showings) for section in repeats.sections}
    heard = set()
    for fall, factor in zip(case.reading.flights, case.reading.flight_factors, strict=True):
        middle = (fall.start_file_s + fall.end_file_s) / 2
        inside = [s for s in repeats.sections if s.start_file_s <= middle <= s.end_file_s]
        if abs(math.log(factor)) < 0.12:
            heard |= {round(section.showings) for section in inside}
    return rounded <= heard


def _by_gravity(case: ClockCase, reading: GravityReading) -> TimeBase:
    factors = tuple(f for f in _all_factors(case) if case.possible(f.file_s_per_s))
    hint = STATURE if case.evidence.ruler_assumed else ORIGINAL
    if not factors:
        return _refused(case, "No capture rate makes the flights physically possible.", hint)
    verdict = weigh_clocks(
        reading, factors, ruler_assumed=case.evidence.ruler_assumed, settings=case.settings.odds
    )
    if not _stands(case, reading, verdict):
        reason = (
            f"By gravity, one real second lasts {reading.factor:.2f} ± "
            f"{reading.factor * reading.sigma:.2f} s in the file, which no usual capture rate "
            "explains beyond doubt."
        )
        return _refused(case, reason, hint)
    contradiction = _tag_contradicts(case, verdict.file_s_per_s)
    if contradiction is not None:
        return _refused(case, contradiction, ORIGINAL)
    if not case.clear:
        if verdict.file_s_per_s not in (1.0, case.tag_factor):
            return _refused(case, "Gravity hints at slow motion, too coarsely to undo it.", hint)
        return _without_gravity(case)
    checked = verdict.sigmas_off <= case.settings.farthest_sigmas
    return _decided(case, verdict.file_s_per_s, case.notes, checked=checked)


def _all_factors(case: ClockCase) -> tuple[SlowFactor, ...]:
    """Real time and every slow factor, with the weight that note and repeats give them."""
    odds, tolerance = case.settings.odds, case.settings.tag_tolerance
    real_time = SlowFactor(1.0, case.rate_hz, odds.real_time_weight)
    repeats = case.evidence.repeats
    asked_for: list[tuple[float, float]] = []
    if case.tag_factor is not None:
        asked_for.append((case.tag_factor, odds.noted_weight))
    repeated = repeats is not None and repeats.share > case.settings.repeated_share
    if repeats is not None and repeated:
        asked_for.append((repeats.showings, odds.repeated_weight))
    weighed = []
    # Irregular repeats leave the rate of capture open, so that nothing could be snapped to.
    irregular = repeated and repeats is not None and not repeats.regular
    for factor in (real_time, *(() if irregular else slow_factors(case.rate_hz))):
        extra = max(
            (w for f, w in asked_for if abs(factor.file_s_per_s / f - 1) <= tolerance), default=0.0
        )
        weighed.append(
            SlowFactor(factor.file_s_per_s, factor.capture_rate_hz, max(factor.weight, extra))
        )
    return tuple(weighed)


def _stands(case: ClockCase, reading: GravityReading, verdict: Verdict) -> bool:
    settings = case.settings
    real_time = verdict.file_s_per_s == 1.0
    if real_time and not case.clear:
        return verdict.probability >= settings.sure_enough
    if real_time and reading.factor > settings.slowest_real_time:
        return False
    # Below 1 the ruler is wrong rather than the clock: a child under an assumed stature.
    least = 0.0 if case.evidence.ruler_assumed else settings.least_real_time
    small = real_time and least <= reading.factor < 1
    near = verdict.sigmas_off <= settings.farthest_sigmas or small
    return verdict.probability >= settings.surest and near


def _tag_contradicts(case: ClockCase, factor: float) -> str | None:
    """A slow factor must be the noted one; real time may carry a note of the original."""
    tag = case.tag_factor
    if tag is None or factor == 1.0 or abs(factor / tag - 1) <= case.settings.tag_tolerance:
        return None
    return (
        f"By gravity the clip plays {factor:.3g} times slower than life, by the file's own note "
        f"{tag:.3g} times."
    )


def _without_gravity(case: ClockCase) -> TimeBase:
    evidence, tag = case.evidence, case.tag_factor
    doubt = _doubt_without_gravity(case)
    if doubt is not None:
        return _refused(case, doubt, STATURE if evidence.ruler is None else ORIGINAL)
    factor = 1.0 if tag is None else tag
    factor = 1.0 if abs(factor - 1) <= case.settings.tag_tolerance else factor
    if not case.possible(factor):
        return _refused(case, _impossible(case), ORIGINAL)
    notes = case.notes
    if factor != 1.0:
        notes = (*notes, "The slow-motion factor rests on the file's own note alone.")
    return _decided(case, factor, notes, checked=False)


def _impossible(case: ClockCase) -> str:
    longest_s = max(fall.duration_file_s for fall in case.evidence.falls)
    return (
        f"A flight lasts {longest_s:.2f} s in the file: in that time a body rises to another "
        "height than the one seen."
    )


def _doubt_without_gravity(case: ClockCase) -> str | None:
    """Say which mark of slow motion only gravity could settle."""
    evidence, tag = case.evidence, case.tag_factor
    repeats = evidence.repeats
    if evidence.edit_rate_not_one:
        return "The file asks for another playing speed, and no flight can check its clock."
    if repeats is not None and repeats.share > case.settings.repeated_share:
        return f"{repeats.share:.0%} of the pictures are repeats; no flight can check the clock."
    slow_note = tag is not None and abs(tag - 1) > case.settings.tag_tolerance
    if evidence.playback_intent == 0 and case.rate_hz < 100 and not slow_note:
        return "The clip was meant as slow motion, and no flight can check its clock."
    if slow_note and tag not in (2.0, 4.0, 8.0):
        return (
            f"By its own note the file plays {tag:.3g} times slower than life, which no camera "
            "usually does."
        )
    return None


def _decided(case: ClockCase, factor: float, notes: tuple[str, ...], *, checked: bool) -> TimeBase:
    return TimeBase(
        status="as_filed" if factor == 1.0 else "slow_motion",
        capture_rate_hz=case.rate_hz * factor,
        file_s_per_s=factor,
        evidence=notes,
        checked_by_gravity=checked,
    )


def _refused(case: ClockCase, reason: str, hint: str) -> TimeBase:
    return TimeBase(
        status="refused",
        capture_rate_hz=case.rate_hz,
        file_s_per_s=1.0,
        evidence=case.notes,
        refusal=Refused(what="time_base", reason=reason, hint=hint),
    )
