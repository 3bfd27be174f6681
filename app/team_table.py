"""Athletes side by side: one kind of repetition, best, last, and the change since a week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from statistics import fmean

from app.following import (
    Change,
    Day,
    Following,
    change_since,
    follow_series,
    list_days,
    make_series,
)
from app.repetitions import QUANTITIES, Kind, Repetition, find_best, group_by_kind
from calibration.values import Refused
from measure.trends.series import Series


@dataclass(frozen=True)
class TeamLine:
    """One athlete's line."""

    athlete_id: int
    athlete: str
    series: Series
    days: tuple[Day, ...]
    best: Repetition | None
    weeks: tuple[date, date]
    """Mondays between which the change is taken."""
    squad_means: tuple[float, ...]

    @property
    def last(self) -> float:
        """Mean of the last day."""
        return self.days[-1].value

    @cached_property
    def following(self) -> Following:
        """The quantity over days with the athlete's own variation. Fitted when asked for."""
        return follow_series(self.series)

    @cached_property
    def change(self) -> Change | None:
        """Change between the weeks; None where one of them has nothing. Fitted when asked for."""
        change = change_since(
            self.following, first_week=self.weeks[0], last_week=self.weeks[1],
            squad_means=self.squad_means,
        )  # fmt: skip
        return None if isinstance(change, Refused) else change


def squad_means(
    repetitions: Sequence[Repetition], kind: Kind, quantity: str
) -> tuple[float, ...]:
    """Give the mean of each athlete's days, of those that have any of a kind."""
    owners: dict[int, dict[date, list[float]]] = {}
    for each in repetitions:
        value = each.value(quantity)
        if each.kind == kind and value is not None:
            days = owners.setdefault(each.clip.athlete_id, {})
            days.setdefault(each.on_date, []).append(value)
    return tuple(fmean(map(fmean, days.values())) for days in owners.values())


ORDERS = ("name", "best", "last", "change")


def list_kinds(repetitions: Sequence[Repetition]) -> list[Kind]:
    """Give the kinds that there are, the exercises in their usual order."""
    return list(group_by_kind(repetitions))


def compare_team(
    repetitions: Sequence[Repetition], kind: Kind, quantity: str, *, first_week: date,
    last_week: date,
) -> list[TeamLine]:  # fmt: skip
    """Give a line for each athlete who has repetitions of a kind.

    Parameters
    ----------
    repetitions : sequence of Repetition
        Of the team, those that count.
    kind : Kind
    quantity : str
    first_week, last_week : date
        Mondays of the weeks that the change is taken between.
    """
    owners: dict[tuple[int, str], list[Repetition]] = {}
    for each in repetitions:
        if each.kind == kind and each.value(quantity) is not None:
            owners.setdefault((each.clip.athlete_id, each.clip.athlete), []).append(each)
    series = {owner: make_series(mine, quantity) for owner, mine in owners.items()}
    days = {owner: list_days(of_owner) for owner, of_owner in series.items()}
    means = tuple(sum(day.value for day in found) / len(found) for found in days.values())
    return [
        TeamLine(
            athlete_id, athlete, series[athlete_id, athlete], days[athlete_id, athlete],
            find_best(mine, quantity), (first_week, last_week), means,
        )
        for (athlete_id, athlete), mine in owners.items()
    ]  # fmt: skip


def sort_lines(
    lines: Sequence[TeamLine], order: str, quantity: str, *, is_turned: bool = False
) -> list[TeamLine]:
    """Give the lines by name, or the better ones first; lines without a number come last."""
    if order == "name":
        return sorted(lines, key=lambda line: line.athlete.casefold(), reverse=is_turned)
    sign = -1.0 if falls(order, quantity, is_turned=is_turned) else 1.0

    def place(line: TeamLine) -> tuple[bool, float]:
        number = _number(line, order, quantity)
        return number is None, sign * (number or 0.0)

    return sorted(lines, key=place)


def falls(order: str, quantity: str, *, is_turned: bool = False) -> bool:
    """Tell whether what lines are ordered by falls from the first to the last."""
    best_falls = order != "name" and QUANTITIES[quantity].more_is_better
    return best_falls != is_turned


def _number(line: TeamLine, order: str, quantity: str) -> float | None:
    if order == "best":
        return None if line.best is None else line.best.value(quantity)
    if order == "change":
        return None if line.change is None else line.change.change.value
    return line.last
