"""A run along a lane as lines for a terminal."""

from __future__ import annotations

import math

from app.report.quantities import lay_out, plain, show
from measure.report import ForceProfile, SplitTime, SprintReport, TurnTime

START_RULES = {
    "first_movement": "the first movement out of the set position",
    "first_movement, set by hand": "the first movement, set by hand",
}
START_SAID = "Times that start by another rule are not to be compared with these."


def render_sprint(sprint: SprintReport) -> list[str]:
    """Give marks, splits, speeds, start, turn and steps, as far as they were measured."""
    return [*_marks(sprint), *_splits(sprint.splits), "", *tell_run(sprint)]


def _marks(sprint: SprintReport) -> list[str]:
    rows = [
        (
            f"{mark.distance_m:g}",
            show(mark.time_s, mark.time_sigma_s, least=3),
            show(
                None if sprint.start_s is None else mark.time_s - sprint.start_s,
                math.hypot(mark.time_sigma_s, sprint.start_sigma_s or 0.0),
                least=3,
            ),
        )
        for mark in sprint.marks
    ]
    return lay_out([("mark, m", "in the clip, s", "after the start, s"), *rows]) if rows else []


def _splits(splits: tuple[SplitTime, ...]) -> list[str]:
    rows = [
        (
            "start" if split.from_m is None else f"{split.from_m:g}",
            f"{split.to_m:g}",
            show(split.time_s, split.time_sigma_s, least=3),
            show(split.mean_speed_mps, _speed_sigma_mps(split), least=2),
        )
        for split in splits
    ]
    names = ("from, m", "to, m", "time, s", "mean speed, m/s")
    return ["", *lay_out([names, *rows])] if rows else []


def _speed_sigma_mps(split: SplitTime) -> float | None:
    """The doubt of a mean speed; the marks' own doubt is in that of the time."""
    if split.mean_speed_mps is None:
        return None
    return split.mean_speed_mps * split.time_sigma_s / split.time_s


def _percent(chance: float) -> str:
    """Give a chance that is never told as certain."""
    return "more than 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def tell_run(sprint: SprintReport) -> list[str]:
    """Give in sentences what of a run is no time: speeds, start, turn, steps, force, ground."""
    lines = [_start(sprint)]
    if sprint.start_foot is not None:
        chance = sprint.start_foot_chance
        seen = "" if chance is None else f" (seen, with a chance of {_percent(chance)})"
        lines.append(f"In front at the start: the {sprint.start_foot} foot{seen}.")
    if sprint.turn is not None:
        lines.append(_turn(sprint.turn))
    if sprint.max_speed_mps is not None:
        speed = show(sprint.max_speed_mps, sprint.max_speed_sigma_mps, least=2)
        at = "" if sprint.max_speed_at_m is None else f", about {sprint.max_speed_at_m:.0f} m"
        lines.append(f"Highest speed filmed: {speed} m/s{at}.")
    if sprint.curve_speed_mps is not None:
        speed = show(sprint.curve_speed_mps, sprint.curve_speed_sigma_mps, least=2)
        lines.append(f"Speed that the run was heading for: {speed} m/s{_time_constant(sprint)}.")
    if sprint.step_count is not None:
        lines.append(_steps(sprint))
    if sprint.contact_time_s is not None:
        lines.append(_contacts(sprint))
    if sprint.force_profile is not None:
        lines.append(_force(sprint.force_profile))
    lines.append(_ground(sprint))
    return [*lines, *(f"Note: {plain(remark)}." for remark in sprint.followed)]


def _start(sprint: SprintReport) -> str:
    rule = START_RULES.get(sprint.start_rule, plain(sprint.start_rule))
    if sprint.start_s is None:
        return "Start: not measured, so times count from the first mark."
    at = show(sprint.start_s, sprint.start_sigma_s, least=2)
    return f"Start: {rule}, at {at} s of the clip. {START_SAID}"


def _turn(turn: TurnTime) -> str:
    sigma_s = math.hypot(turn.start_sigma_s, turn.end_sigma_s)
    took = show(turn.end_s - turn.start_s, sigma_s, least=2)
    return (
        f"Turn towards the {turn.side}: {took} s, from the trailing foot's last push-off to its "
        "first touch of the run."
    )


def _time_constant(sprint: SprintReport) -> str:
    if sprint.time_constant_s is None:
        return ""
    shown = show(sprint.time_constant_s, sprint.time_constant_sigma_s, least=2)
    return f", two thirds of it reached within {shown} s (time constant)"


def _steps(sprint: SprintReport) -> str:
    parts = [f"Steps: {sprint.step_count}"]
    if sprint.step_length_m is not None:
        parts.append(f"{show(sprint.step_length_m, sprint.step_length_sigma_m, least=2)} m each")
    if sprint.step_frequency_hz is not None:
        frequency = show(sprint.step_frequency_hz, sprint.step_frequency_sigma_hz, least=2)
        parts.append(f"{frequency} a second")
    return f"{', '.join(parts)}."


def _contacts(sprint: SprintReport) -> str:
    took = show(sprint.contact_time_s, sprint.contact_time_sigma_s, per_unit=1000)
    count = len(sprint.step_contacts)
    return f"Ground contact of a step: {took} ms, the middle of {count} steps that were timed."


def _force(profile: ForceProfile) -> str:
    force = show(profile.force_n_per_kg, profile.force_sigma_n_per_kg, least=2)
    speed = show(profile.speed_mps, profile.speed_sigma_mps, least=2)
    power = show(profile.power_w_per_kg, profile.power_sigma_w_per_kg, least=1)
    ratio = show(profile.ratio_peak, profile.ratio_peak_sigma, per_unit=100)
    return (
        f"Forward force over speed, for {profile.mass_kg:g} kg in still air: {force} N/kg at no "
        f"speed, falling to nothing at {speed} m/s; highest power {power} W/kg; at most {ratio} % "
        "of the force on the ground points forward."
    )


def _ground(sprint: SprintReport) -> str:
    slope = f", slope {sprint.slope_pct:+g} %" if sprint.slope_pct else ""
    return f"Ground: {plain(sprint.surface)}{slope}."
