"""Athletes side by side: one kind of repetition, best, last, and the change since a week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from app.following import Change, Following, change_since, follow
from app.repetitions import QUANTITIES, Kind, Repetition, find_best, group_by_kind
from calibration.values import Refused


@dataclass(frozen=True)
class TeamLine:
    """One athlete's line."""

    athlete_id: int
    athlete: str
    following: Following
    best: Repetition | None
    change: Change | None
    """None where one of the two weeks has nothing."""

    @property
    def last(self) -> float | None:
        """Mean of the last day."""
        return self.following.days[-1].value if self.following.days else None


ORDERS = ("name", "best", "last", "change")


def list_kinds(repetitions: Sequence[Repetition]) -> list[Kind]:
    """Give the kinds that there are, the most filmed of each exercise first."""
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
    followed = {owner: follow(mine, quantity) for owner, mine in owners.items()}
    means = [_mean(each) for each in followed.values()]
    lines = []
    for (athlete_id, athlete), mine in owners.items():
        change = change_since(
            mine, quantity, first_week=first_week, last_week=last_week, squad_means=means
        )
        lines.append(
            TeamLine(
                athlete_id, athlete, followed[athlete_id, athlete], find_best(mine, quantity),
                None if isinstance(change, Refused) else change,
            )
        )
    return lines


def _mean(following: Following) -> float:
    return sum(day.value for day in following.days) / len(following.days)


def sort_lines(lines: Sequence[TeamLine], order: str, quantity: str) -> list[TeamLine]:
    """Give the lines by name, or the better ones first; lines without a number come last."""
    if order == "name":
        return sorted(lines, key=lambda line: line.athlete.casefold())
    sign = -1.0 if QUANTITIES[quantity].more_is_better else 1.0

    def place(line: TeamLine) -> tuple[bool, float]:
        number = _number(line, order, quantity)
        return number is None, sign * (number or 0.0)

    return sorted(lines, key=place)


def _number(line: TeamLine, order: str, quantity: str) -> float | None:
    if order == "best":
        return None if line.best is None else line.best.value(quantity)
    if order == "change":
        return None if line.change is None else line.change.change.value
    return line.last
