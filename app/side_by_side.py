"""Which two repetitions are worth seeing side by side, and the moments they have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.repetitions import Repetition, find_best, main_quantity
from app.report.units import Units
from app.review_events import list_events

JUMPED = {"take_off": "take-off", "landing": "landing"}
CHOICES = ("the newest with the best", "the newest with the one before", "left with right")


@dataclass(frozen=True)
class Pair:
    """Two repetitions to look at together."""

    one: Repetition
    two: Repetition


def list_films(repetitions: Sequence[Repetition]) -> list[Repetition]:
    """Give the repetitions that are films of their own: each jump, and each run once."""
    films: dict[tuple[int, int], Repetition] = {}
    for each in repetitions:
        # Of a run its longest way comes last and stands for all of it.
        films[each.clip.clip_id, each.number] = each
    return list(films.values())


def suggest(films: Sequence[Repetition]) -> dict[str, Pair]:
    """Give the pairs that make sense now, by what they show."""
    newest = films[-1]
    others = [each for each in films[:-1] if each.kind == newest.kind]
    pairs: dict[str, Pair] = {}
    best = find_best(others, main_quantity([*others, newest]))
    if best is not None:
        pairs[CHOICES[0]] = Pair(newest, best)
        pairs[CHOICES[1]] = Pair(newest, others[-1])
    for exercise in dict.fromkeys(each.kind.exercise for each in reversed(films)):
        last = {each.kind.side: each for each in films if each.kind.exercise == exercise}
        if "left" in last and "right" in last:
            pairs[CHOICES[2]] = Pair(last["left"], last["right"])
            break
    return pairs


def list_moments(each: Repetition, units: Units) -> dict[str, float]:
    """Give the moments of a repetition by name, in seconds of the clip, the usual one first."""
    events = list_events(each.clip.report, units)
    if each.kind.is_sprint:
        return {event.label: event.time_s for event in events if event.kind not in JUMPED}
    return {
        JUMPED[event.kind]: event.time_s
        for event in events
        if event.kind in JUMPED and event.number == each.number
    }


def common_moments(pair: Pair, units: Units) -> list[str]:
    """Give the names of the moments that both have."""
    theirs = list_moments(pair.two, units)
    return [name for name in list_moments(pair.one, units) if name in theirs]
