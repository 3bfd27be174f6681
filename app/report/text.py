"""A report as lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from app.exercises import name_exercise
from app.report.quantities import lay_out, plain, show, show_cm, show_ms
from calibration.values import Refused, Scale, TimeBase
from measure.report import Caution, JumpReport, Report, SprintReport

WIDTH = 96
SIGMA_SAID = "± is one standard uncertainty: about two errors in three are smaller."
HEIGHTS_SAID = (
    "Height: g·T²/8 from the time in the air; it reads high when the body lands lower than it "
    "left. Body's rise: of the centre of mass, landing posture taken out. Standing: the height "
    "above quiet standing, heel raise included."
)
GROUND_SAID = "Ground: contact before the jump. RSI: height over that time."
STANDING_NOTICE = (
    "What is said about a landing describes what was seen in this clip. It is no diagnosis and "
    "foresees no injury. With pain, swelling, a joint that gives way or locks, or after a recent "
    "injury or operation without clearance: stop, and see a licensed professional. Their word and "
    "your local rules come first."
)
PLAIN_NAMES = {
    "height_m": "height",
    "height_com_m": "body's rise",
    "height_standing_m": "height above standing",
    "contact_time_s": "time on the ground",
    "rsi_mps": "RSI",
}
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
    if report.refusals:
        lines += ["", "Not measured:", *(line for item in report.refusals for line in _no(item))]
    if report.cautions:
        lines += ["", "Seen at the landing:"]
        lines += [line for item in report.cautions for line in _caution(item)]
    if report.cautions or any(jump.landing is not None for jump in report.jumps):
        lines += ["", *_wrap(STANDING_NOTICE)]
    return lines


def _what(report: Report) -> str:
    parts = [name_exercise(report.exercise)]
    if report.view is not None:
        parts.append(f"filmed from {VIEW_NAMES[report.view]}")
    parts.append(f"{report.time_base.capture_rate_hz:.4g} pictures per second")
    return ", ".join(parts)


def _clock(time_base: TimeBase) -> list[str]:
    lead = f"Clock {CLOCK_NAMES[time_base.status]}"
    if time_base.status == "slow_motion":
        lead += f" ({time_base.file_s_per_s:.4g} times slow)"
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
        lines += [*_jump_table(report.jumps), "", *_wrap(said)]
    if report.sprint is not None:
        lines += _sprint_table(report.sprint)
    return [*lines, SIGMA_SAID]


def _jump_table(jumps: Sequence[JumpReport]) -> list[str]:
    names = ("jump", "at, s", "in the air, ms", "height, cm", "body's rise, cm",
             "standing, cm", "ground, ms", "RSI, m/s", "turn, deg",
             "off", "on")  # fmt: skip
    rows = [
        (
            str(number),
            f"{jump.take_off_s:.2f}",
            show_ms(jump.flight_time_s, jump.flight_time_sigma_s),
            show_cm(jump.height_m, jump.height_sigma_m),
            show_cm(jump.height_com_m, jump.height_com_sigma_m),
            show_cm(jump.height_standing_m, jump.height_standing_sigma_m),
            show_ms(jump.contact_time_s, jump.contact_time_sigma_s),
            show(jump.rsi_mps, jump.rsi_sigma_mps, least=2),
            show(jump.turn_deg, jump.turn_sigma_deg),
            jump.take_off_side,
            jump.landing_side,
        )
        for number, jump in enumerate(jumps, start=1)
    ]
    return lay_out([names, *rows])


def _sprint_table(sprint: SprintReport) -> list[str]:
    rows = [
        (f"{mark.distance_m:g}", show(mark.time_s, mark.time_sigma_s, least=3))
        for mark in sprint.marks
    ]
    lines = [*lay_out([("mark, m", "time, s"), *rows]), f"Start: {sprint.start_rule}."]
    if sprint.max_speed_mps is not None:
        speed = show(sprint.max_speed_mps, sprint.max_speed_sigma_mps, least=2)
        lines.append(f"Top speed {speed} m/s.")
    return lines


def _no(refused: Refused) -> list[str]:
    what = PLAIN_NAMES.get(refused.what, refused.what)
    return _hang(f"{what}: {sentence(refused.reason)} {sentence(refused.hint)}", mark="- ")


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


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)


def _hang(text: str, *, mark: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=mark, subsequent_indent="  ",
                         break_on_hyphens=False)  # fmt: skip
