"""The words on a picture: what a report says about a moment, short enough for a phone."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence

from measure.io.moments import Event, FootState
from measure.report import JumpReport, LandingReport, PerFoot, Report
from measure.types import Foot

LINE_LETTERS = 46
"""About as many as stay legible across a phone."""
CAPTION_LINES = 2
KIND_NAMES = {"take_off": "take-off", "landing": "landing", "deepest": "deepest point"}
STATE_NAMES: dict[FootState | None, str] = {"ground": "ground", "air": "air", None: "?"}


def show(value: float, sigma: float | None, *, per_unit: float = 1.0, least: int = 0) -> str:
    """Give a number with its doubt, with as many decimals as the doubt deserves.

    Parameters
    ----------
    value, sigma : float
        In SI units or degrees.
    per_unit : float
        Shown units per unit given: 100 for centimetres.
    least : int
        Decimals to show at least.

    Returns
    -------
    str
    """
    shown_sigma = 0.0 if sigma is None else sigma * per_unit
    if shown_sigma <= 0:
        return f"{value * per_unit:.2f}"
    decimals = min(max(-math.floor(math.log10(shown_sigma)), least), 3)
    return f"{value * per_unit:.{decimals}f} ± {shown_sigma:.{decimals}f}"


def say_time(report: Report, *, at_s: float) -> str:
    """Give the moment, and how much slower than life the film is shown."""
    if report.time_base.refusal is not None:
        return f"file time {at_s:.3f} s"
    slower = report.time_base.file_s_per_s
    pace = f"  (shown {slower:.3g}x slower)" if slower > 1.005 else ""
    return f"{at_s:.3f} s{pace}"


def say_moment(report: Report, *, at_s: float) -> tuple[str, ...]:
    """Lines below the picture at one moment.

    Parameters
    ----------
    report : Report
    at_s : float
        Real time.

    Returns
    -------
    tuple of str
        Two at most: the jump that is going on or the last one, and its landing; where nothing
        was measured, why.
    """
    if report.sprint is not None:
        passed = [mark for mark in report.sprint.marks if mark.time_s <= at_s]
        return tuple(
            f"{mark.distance_m:g} m at {show(mark.time_s, mark.time_sigma_s)} s"
            for mark in passed[-CAPTION_LINES:]
        )
    if not report.jumps:
        return _say_refusal(report)
    begun = [number for number, jump in enumerate(report.jumps) if jump.take_off_s <= at_s]
    if not begun:
        return ()
    return say_jump(report.jumps[begun[-1]], number=begun[-1] + 1, at_s=at_s)


def say_jump(jump: JumpReport, *, number: int, at_s: float) -> tuple[str, ...]:
    """Height, times, and what is known of the landing by then."""
    height = f"Jump {number}: height {_show_cm(jump.height_m, jump.height_sigma_m)}"
    if jump.height_com_m is not None:
        height += f", body's rise {_show_cm(jump.height_com_m, jump.height_com_sigma_m)}"
    times = f"air {show(jump.flight_time_s, jump.flight_time_sigma_s, per_unit=1000)} ms"
    if jump.contact_time_s is not None:
        ground = show(jump.contact_time_s, jump.contact_time_sigma_s, per_unit=1000)
        times = f"{times}, ground before it {ground} ms"
    landed = say_landing(jump.landing, at_s=at_s) if at_s >= jump.landing_s else None
    return height, landed or times


def _show_cm(value_m: float, sigma_m: float | None) -> str:
    return f"{show(value_m, sigma_m, per_unit=100, least=1)} cm"


def say_landing(landing: LandingReport | None, *, at_s: float) -> str | None:
    """Posture of the landing: at first contact, and from its deepest moment on there.

    Returns
    -------
    str or None
        None where the view shows no angle.
    """
    if landing is None:
        return None
    if landing.frontal_knee_angle_deg is not None and _is_past(landing.deepest_s, at_s):
        angles, sigmas = landing.frontal_knee_angle_deg, landing.frontal_knee_angle_sigma_deg
        return f"knee inward {_both(angles, sigmas)}"
    if landing.knee_flexion_peak_deg is not None and _is_past(landing.deepest_s, at_s):
        angles, sigmas = landing.knee_flexion_peak_deg, landing.knee_flexion_peak_sigma_deg
        return f"deepest: knee bent {_both(angles, sigmas)}"
    if landing.knee_flexion_contact_deg is not None:
        angles, sigmas = landing.knee_flexion_contact_deg, landing.knee_flexion_contact_sigma_deg
        return f"landing: knee bent {_both(angles, sigmas)}"
    return None


def _is_past(moment_s: float | None, at_s: float) -> bool:
    return moment_s is not None and at_s >= moment_s


def _both(angles: PerFoot, sigmas: PerFoot | None) -> str:
    return ", ".join(
        f"{foot[0].upper()} {show(angle, (sigmas or {}).get(foot))}°"
        for foot, angle in angles.items()
    )


def say_event(event: Event, *, frame_time_s: float) -> tuple[str, str]:
    """Name an event, and say how far from it this picture was taken.

    Parameters
    ----------
    event : Event
    frame_time_s : float
        When the picture shown was taken, real time.

    Returns
    -------
    tuple of two str
    """
    when = show(event.time_s, event.sigma_s) if event.sigma_s else f"about {event.time_s:.2f}"
    name = KIND_NAMES[event.kind]
    late_ms = (event.time_s - frame_time_s) * 1000
    if abs(late_ms) < 0.05:
        where = "exactly at this picture"
    else:
        where = f"{abs(late_ms):.1f} ms {'after' if late_ms > 0 else 'before'} this picture"
    return f"Jump {event.jump}: {name} at {when} s", where


def say_feet(states: Mapping[Foot, FootState | None]) -> str:
    """Give both feet's state in words."""
    return "   ".join(f"{foot[0].upper()} {STATE_NAMES[state]}" for foot, state in states.items())


def _say_refusal(report: Report) -> tuple[str, ...]:
    refused = report.time_base.refusal or next(iter(report.refusals), None)
    if refused is None:
        return ()
    return tuple(_shortened(f"Not measured: {refused.reason}", lines=CAPTION_LINES))


def _shortened(text: str, *, lines: int) -> Sequence[str]:
    return textwrap.wrap(text, LINE_LETTERS, max_lines=lines, placeholder=" ...")
