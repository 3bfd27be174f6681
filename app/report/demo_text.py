"""What the demo measured, beside the truth."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.report.quantities import NOT_MEASURED, lay_out, show_cm, show_ms
from app.report.text import SIGMA_SAID, sentence
from app.samples import SampleClip
from measure.report import JumpReport, Report

SAME_JUMP_S = 0.2
"""A measured and a true take-off this near are of one jump."""


@dataclass(frozen=True)
class Trial:
    """One sample clip and what measuring it gave."""

    sample: SampleClip
    report: Report | None
    refusal: str | None = None


@dataclass(frozen=True)
class Pair:
    """A true jump of a clip and the measured one, where there is one."""

    name: str
    true: dict[str, Any]
    measured: JumpReport | None

    @property
    def flight_time_error_s(self) -> float | None:
        """Measured less true."""
        if self.measured is None:
            return None
        return self.measured.flight_time_s - float(self.true["flight_time_s"])


def render_trials(trials: Sequence[Trial]) -> list[str]:
    """Give a table of measured against true, and what was refused."""
    pairs = [pair for trial in trials for pair in _pairs(trial)]
    names = ("clip", "in the air, ms", "truth", "off by", "height, cm", "truth",
             "body's rise, cm", "truth")  # fmt: skip
    lines = lay_out([names, *(_row(pair) for pair in pairs)]) if pairs else []
    for trial in trials:
        refusal = _refusal(trial)
        if refusal:
            lines.append(f"  {trial.sample.name}: {refusal}")
    return [*lines, "", *_summary(pairs), SIGMA_SAID]


def render_next_steps(folder: Path, *, athlete: str | None, variable: str) -> list[str]:
    """Give what a person may want to do next."""
    lines = ["Next:", "  flightmark measure YOUR_CLIP.mp4 --stature-m 1.72"]
    lines.append('  flightmark measure YOUR_CLIP.mp4 --stature-m 1.72 --athlete "Your Name"')
    if athlete is not None:
        lines.append(f'  {variable}="{folder}" flightmark history "{athlete}"')
        lines.append(f'  flightmark serve --folder "{folder}"      the demo team in a browser')
    return lines


def _pairs(trial: Trial) -> list[Pair]:
    if not trial.sample.is_measurable:
        return []
    found = trial.report.jumps if trial.report else ()
    return [
        Pair(trial.sample.name, true, _nearest(found, true["take_off_s"]))
        for true in trial.sample.true_jumps
    ]


def _nearest(jumps: Sequence[JumpReport], take_off_s: float) -> JumpReport | None:
    near = [jump for jump in jumps if abs(jump.take_off_s - take_off_s) < SAME_JUMP_S]
    return min(near, key=lambda jump: abs(jump.take_off_s - take_off_s), default=None)


def _row(pair: Pair) -> tuple[str, ...]:
    jump, true, error_s = pair.measured, pair.true, pair.flight_time_error_s
    return (
        pair.name,
        NOT_MEASURED if jump is None else show_ms(jump.flight_time_s, jump.flight_time_sigma_s),
        f"{true['flight_time_s'] * 1000:.1f}",
        NOT_MEASURED if error_s is None else f"{error_s * 1000:+.1f}",
        NOT_MEASURED if jump is None else show_cm(jump.height_m, jump.height_sigma_m),
        f"{true['height_m'] * 100:.1f}",
        NOT_MEASURED if jump is None else show_cm(jump.height_com_m, jump.height_com_sigma_m),
        f"{true['height_com_m'] * 100:.1f}" if "height_com_m" in true else NOT_MEASURED,
    )


def _refusal(trial: Trial) -> str | None:
    if trial.report is not None and trial.report.jumps:
        return None if trial.sample.is_measurable else "a jump was reported that should not be"
    reasons = [sentence(item.reason) for item in trial.report.refusals] if trial.report else []
    return trial.refusal or " ".join(reasons) or "nothing was measured"


def _summary(pairs: Sequence[Pair]) -> list[str]:
    errors_s = [error for pair in pairs if (error := pair.flight_time_error_s) is not None]
    if not errors_s:
        return ["No jump was measured."]
    median_s = statistics.median(abs(error) for error in errors_s)
    rms_s = math.sqrt(statistics.fmean(error**2 for error in errors_s))
    return [
        f"{len(errors_s)} of {len(pairs)} jumps measured. Flight time off by {median_s * 1000:.1f} "
        f"ms (median), {rms_s * 1000:.1f} ms (RMS), "
        f"{max(abs(error) for error in errors_s) * 1000:.1f} ms (worst)."
    ]
