"""A report as lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from app.exercises import name_exercise
from app.report.landing_text import render_landings
from app.report.quantities import NOT_MEASURED, lay_out, plain, show, show_cm, show_ms
from app.report.set_text import render_set
from app.report.sprint_text import render_sprint
from calibration.values import Estimate, Refused, Scale, TimeBase
from measure.cautions import STANDING_NOTICE
from measure.ground_contact import classify_contact
from measure.report import Caution, JumpReport, Report

__all__ = ["SIGMA_SAID", "STANDING_NOTICE", "render_report", "sentence"]

WIDTH = 96
SIGMA_SAID = "± is one standard uncertainty: about two errors in three are smaller."
HEIGHTS_SAID = (
    "Height: g·T²/8 from the time in the air; it reads high when the body lands lower than it "
    "left. Body's rise: of the centre of mass, landing posture taken out. Standing: the height "
    "above quiet standing, heel raise included."
)
GROUND_SAID = "Ground: contact before the jump. RSI: height over that time."
PLAIN_NAMES = {
    "time_base": "the clip's clock",
    "height_m": "height",
    "height_com_m": "body's rise",
    "height_standing_m": "height above standing",
    "contact_time_s": "time on the ground",
    "start_foot": "foot in front",
    "force_profile": "forward force",
    "rsi_mps": "RSI",
    "turn_deg": "turn in the air",
    "contact_part": "heel or toe first",
    "foot_lag_s": "which foot touched first",
    "time_to_steady_s": "time to steady",
    "landing frontal": "landing from the front",
    "landing posture": "landing from the side",
    "landing posture left leg": "left leg at the landing",
    "landing posture right leg": "right leg at the landing",
    "sprint": "run",
    "start_s": "start",
    "turn_s": "turn",
    "max_speed_mps": "highest speed",
    "time_constant_s": "speed curve",
}
ONLY_WITH_NUMBERS = ("scale", "view")
"""Refusals that say nothing to somebody whose clip gave no number for another reason."""
SCALE_NAMES = {"stature": "the stature", "reference": "the marked length", "gravity": "the fall"}
VIEW_NAMES = {"side": "the side", "front": "the front", "oblique": "between side and front"}
CLOCK_NAMES = {
    "as_filed": "as the file says",
    "slow_motion": "slow motion, undone",
    "refused": "not to be trusted",
}


def render_report(report: Report, *, name: str) -> list[str]:
    """Give a report as lines a person can act on.

    Parameters
    ----------
    report : Report
    name : str
        What to call the clip.

    Returns
    -------
    list of str
        Without line ends.
    """
    lines = [plain(name), _what(report), *_clock(report.time_base)]
    if report.scale is not None:
        lines.append(_scale(report.scale))
    lines += ["", *_measured(report)]
    if refusals := _telling(report):
        lines += ["", "Not measured:", *(line for item in refusals for line in _no(item))]
    if report.cautions:
        lines += ["", "Seen at the landing:"]
        lines += [line for item in report.cautions for line in _caution(item)]
    if report.cautions or any(jump.landing is not None for jump in report.jumps):
        lines += ["", *_wrap(STANDING_NOTICE)]
    return lines


def _telling(report: Report) -> tuple[Refused, ...]:
    """Leave out what follows from the main reason where nothing was measured."""
    if report.jumps or report.sprint is not None:
        return report.refusals
    main = tuple(item for item in report.refusals if item.what not in ONLY_WITH_NUMBERS)
    return main or report.refusals


def _what(report: Report) -> str:
    parts = [name_exercise(report.exercise)]
    if report.view is not None:
        parts.append(f"filmed from {VIEW_NAMES[report.view]}")
    parts.append(f"{report.time_base.capture_rate_hz:.4g} pictures per second")
    return ", ".join(parts)


def _clock(time_base: TimeBase) -> list[str]:
    lead = f"Clock {CLOCK_NAMES[time_base.status]}"
    if time_base.status == "slow_motion":
        lead += f" (it plays {time_base.file_s_per_s:.4g} times slower than life)"
    return _hang(" ".join([f"{lead}.", *time_base.evidence]), mark="")


def _scale(scale: Scale) -> str:
    size = show(scale.m_per_px, scale.m_per_px_sigma, per_unit=1000.0, least=2)
    return f"Scale {size} mm per pixel at the athlete, from {SCALE_NAMES[scale.source]}."


def _measured(report: Report) -> list[str]:
    if not report.jumps and report.sprint is None:
        return ["Nothing was measured."]
    lines: list[str] = []
    if report.jumps:
        has_ground = any(jump.contact_time_s is not None for jump in report.jumps)
        said = f"{HEIGHTS_SAID} {GROUND_SAID}" if has_ground else HEIGHTS_SAID
        lines += [*_jump_table(report.jumps), *_ground_table(report.jumps), "", *_wrap(said)]
        if together := render_set(report):
            lines += ["", *(line for told in together for line in _hang(told, mark=""))]
        lines += render_landings(report.jumps)
    if report.sprint is not None:
        lines += [line for told in render_sprint(report.sprint) for line in _fit(told)]
    return [*lines, SIGMA_SAID]


def _jump_table(jumps: Sequence[JumpReport]) -> list[str]:
    names = ("jump", "at, s", "in the air, ms", "height, cm", "body's rise, cm", "standing, cm",
             "off", "on")  # fmt: skip
    rows = [
        (
            str(number),
            f"{jump.take_off_s:.2f}",
            show_ms(jump.flight_time_s, jump.flight_time_sigma_s),
            show_cm(jump.height_m, jump.height_sigma_m),
            show_cm(jump.height_com_m, jump.height_com_sigma_m),
            show_cm(jump.height_standing_m, jump.height_standing_sigma_m),
            jump.take_off_side,
            jump.landing_side,
        )
        for number, jump in enumerate(jumps, start=1)
    ]
    return lay_out([names, *rows])


def _ground_table(jumps: Sequence[JumpReport]) -> list[str]:
    """Give what came before each jump, and its turn; nothing where none has it."""
    names = ("jump", "ground, ms", "against 250 ms", "RSI, m/s", "turn, deg")
    rows = [
        (
            str(number),
            show_ms(jump.contact_time_s, jump.contact_time_sigma_s),
            _speed_of_contact(jump),
            show(jump.rsi_mps, jump.rsi_sigma_mps, least=2),
            show(jump.turn_deg, jump.turn_sigma_deg),
        )
        for number, jump in enumerate(jumps, start=1)
        if jump.contact_time_s is not None or jump.turn_deg is not None
    ]
    return ["", *lay_out([names, *rows])] if rows else []


def _speed_of_contact(jump: JumpReport) -> str:
    """Tell a fast contact from a slow one, where the jump rebounds from it."""
    if jump.contact_time_s is None or jump.contact_time_sigma_s is None or jump.rsi_mps is None:
        return NOT_MEASURED
    return classify_contact(Estimate(jump.contact_time_s, jump.contact_time_sigma_s))


def _no(refused: Refused) -> list[str]:
    what = PLAIN_NAMES.get(refused.what, refused.what)
    told = f"{sentence(refused.reason)} {sentence(refused.hint)}"
    is_said = told.lower().startswith(what.lower())
    return _hang(told if is_said else f"{what}: {told}", mark="- ")


def sentence(text: str) -> str:
    """Give a clause with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _caution(caution: Caution) -> list[str]:
    when = "" if caution.time_s is None else f"at {caution.time_s:.2f} s: "
    return _hang(
        f"{when}{caution.text} Seen: {caution.seen}. Threshold: {caution.threshold} "
        f"({caution.source}).",
        mark="- ",
    )


def _fit(line: str) -> list[str]:
    """Wrap a sentence; a line of a table, or an empty one, stays as it is."""
    return [line] if line.startswith(" ") or not line else _hang(line, mark="")


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)


def _hang(text: str, *, mark: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=mark, subsequent_indent="  ",
                         break_on_hyphens=False)  # fmt: skip
