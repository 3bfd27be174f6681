"""The numbers of a clip in words and tables, with what to beat and how long the rest was."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

import streamlit as st

from app.history.plans import Entry
from app.history.review_mapping import reviewed_run
from app.repetitions import QUANTITIES, Repetition
from app.report.quantities import show as show_quantity
from app.report.sprint_text import tell_run
from app.report.text import SIGMA_SAID, sentence
from app.report.units import Units
from app.standing import Standing
from app.web import say

SHOWN = ("height_com_m", "height_m", "height_standing_m", "contact_time_s", "rsi_mps")
RUN_FACTS = (
    ("highest speed filmed", "max_speed_mps", "max_speed_sigma_mps", 1, 2, "m/s"),
    ("length of a step", "step_length_m", "step_length_sigma_m", 1, 2, "m"),
    ("steps a second", "step_frequency_hz", "step_frequency_sigma_hz", 1, 2, ""),
    ("foot on the ground", "contact_time_s", "contact_time_sigma_s", 1000, 0, "ms"),
)
RUN_SAID = (
    "Times are taken when the middle of the hips passes the mark. The highest speed filmed is "
    "that of the hips over a stride; a longer sprint may have a higher one. Length and number of "
    "steps are means from the start, or the turn, to the last mark; the time of a foot on the "
    "ground is the middle one of those that were timed."
)
FORCE_SAID = (
    "Forward force comes from how the speed rose, with the mass and the height of the body and "
    "the drag of still air (Samozino et al. 2016). Mass and height are given on the page "
    "“People”, or by the athlete on “Me”."
)


def show_number(standing: Standing, units: Units) -> None:
    """Show the number that counts, large, with its doubt and what to beat."""
    repetition, quantity = standing.repetition, QUANTITIES[standing.quantity]
    value = repetition.value(quantity.key)
    shown = units.quantity(quantity.unit, value, repetition.sigma(quantity.key))
    many = f" (jump {repetition.number})" if repetition.number > 1 else ""
    stretch = f", {repetition.kind.stretch(units)}" if repetition.kind.is_sprint else ""
    label = f"{sentence(quantity.name).rstrip('.')}{many}{stretch}"
    say.big(label, shown, after=_verdict(standing, units))
    say.facts([*_others(repetition, units, but=quantity.key), *_bests(standing, units)])
    explain([repetition])


def explain(repetitions: Sequence[Repetition]) -> None:
    """Offer what the numbers of some repetitions mean."""
    with st.expander("What these numbers mean"):
        st.markdown(say.plain(SIGMA_SAID))
        for key in (*SHOWN, "split"):
            if any(each.value(key) is not None for each in repetitions):
                known = QUANTITIES[key]
                st.markdown(f"**{say.plain(known.name)}** — {say.plain(known.explained)}")


def _verdict(standing: Standing, units: Units) -> str:
    unit = QUANTITIES[standing.quantity].unit
    if standing.best_before is None:
        return "Your first of this kind. This is what to beat next."
    best = units.quantity(unit, standing.best_before.value(standing.quantity))
    if standing.is_clearly_best:
        return f"Your best so far; before it was {best}. This is what to beat next."
    if standing.is_best:
        return f"About level with your best, {best}: the difference is within the doubt."
    return f"What to beat next: {best}."


def _others(repetition: Repetition, units: Units, *, but: str) -> list[tuple[str, str]]:
    return [
        (QUANTITIES[key].name,
         units.quantity(QUANTITIES[key].unit, repetition.value(key), repetition.sigma(key)))
        for key in SHOWN
        if key != but and repetition.value(key) is not None
    ]  # fmt: skip


def _bests(standing: Standing, units: Units) -> list[tuple[str, str]]:
    unit, key = QUANTITIES[standing.quantity].unit, standing.quantity
    pairs = []
    if standing.best_today is not None:
        today = units.quantity(unit, standing.best_today.value(key))
        pairs.append((f"best of {say.day(standing.repetition.on_date)}", today))
    if standing.to_beat is not None:
        pairs.append(("personal best", units.quantity(unit, standing.to_beat.value(key))))
    return pairs


def show_rest(standing: Standing, planned: Entry | None) -> None:
    """Say how long the rest before was, from the recording times, and what the plan asks for."""
    asked = []
    if planned is not None and planned.pause_s:
        asked.append(f"{_duration(planned.pause_s)} between repetitions")
    if planned is not None and planned.rest_s:
        asked.append(f"{_duration(planned.rest_s)} between sets")
    plan = f"The plan asks for {' and '.join(asked)}." if asked else ""
    if standing.rest is None:
        if plan:
            st.write(say.plain(plan))
        return
    rested = f"You rested {_duration(standing.rest.total_seconds())} since the clip before."
    short = _is_short(standing.rest, planned)
    more = "That was too short: full effort wants the whole rest." if short else ""
    st.write(say.plain(f"{rested} {plan} {more}"))


def _is_short(rest: timedelta, planned: Entry | None) -> bool:
    """Tell whether a rest is shorter than all that the plan asks for: a clip may be a whole set."""
    asked = [] if planned is None else [s for s in (planned.pause_s, planned.rest_s) if s]
    return bool(asked) and rest.total_seconds() < min(asked)


def _duration(time_s: float) -> str:
    """Give minutes and seconds in words."""
    minutes, seconds = divmod(round(time_s), 60)
    if minutes == 0:
        return f"{seconds} s"
    return f"{minutes} min {seconds:02d} s" if seconds else f"{minutes} min"


def show_all(repetitions: list[Repetition], units: Units) -> None:
    """Show the numbers of each of several jumps."""
    keys = [key for key in SHOWN if any(each.value(key) is not None for each in repetitions)]
    rows = [
        [str(each.number), each.numbers["take_off_side"],
         *(units.quantity(QUANTITIES[key].unit, each.value(key), each.sigma(key))
           for key in keys)]
        for each in repetitions
    ]  # fmt: skip
    names = ["jump", "off", *(QUANTITIES[key].name for key in keys)]
    say.table(names, rows, numbers=range(2, len(names)))


def _since_start(run: Mapping[str, Any], units: Units) -> dict[float | None, str]:
    """Give the time from the start to each mark; nothing where a mark is passed twice."""
    start_s, marks = run.get("start_s"), run.get("marks", ())
    distances = {mark["distance_m"] for mark in marks}
    if start_s is None or len(distances) < len(marks):
        return {}
    return {
        mark["distance_m"]: units.quantity(
            "time", mark["time_s"] - start_s, math.hypot(mark["time_sigma_s"], run["start_sigma_s"])
        )
        for mark in marks
    }


def show_splits(repetitions: list[Repetition], units: Units) -> None:
    """Show the splits of a run, and what else is known of it."""
    run = repetitions[0].clip.report["sprint"]
    since_start = _since_start(run, units)
    rows = [
        [each.kind.stretch(units),
         units.quantity("time", each.value("split"), each.sigma("split")),
         since_start.get(each.kind.to_m, "–")]
        for each in repetitions
    ]  # fmt: skip
    say.table(["stretch", "time", "since the start"], rows, numbers=(1, 2))
    say.facts(
        [
            (name, f"{show_quantity(run[key] * per, run[sigma] * per, least=least)} {unit}")
            for name, key, sigma, per, least, unit in RUN_FACTS
            if key in run and sigma in run
        ]
    )
    turn = run.get("turn")
    if turn is not None:
        sigma_s = math.hypot(turn["start_sigma_s"], turn["end_sigma_s"])
        took = units.quantity("time", turn["end_s"] - turn["start_s"], sigma_s)
        say.facts([(f"turn towards the {turn['side']}", took)])
    with st.expander("More about this run, and what its numbers mean"):
        for line in [*tell_run(reviewed_run(run)), RUN_SAID, FORCE_SAID, SIGMA_SAID]:
            st.markdown(say.plain(line))
