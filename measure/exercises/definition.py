"""What an exercise is: a few facts that the tool compares with what it saw."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:  # the command line names exercises without waiting for numpy
    from measure.types import Side, View

__all__ = ["Approach", "Exercise", "Expectation"]

Approach = Literal["standing", "one_step", "run_up", "rebound", "unknown"]
"""What the feet do before a flight: stand, take one step, run up, or come from another landing."""
Expectation = Literal["approach", "take_off", "landing", "same_foot", "turn", "flights"]
"""What can be wrong with a repetition."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise, declared."""

    key: str
    """As in the report."""
    name: str
    """As people read it."""
    happens: str
    """One sentence for the athlete."""
    film_from: tuple[View, ...]
    """Best view first."""
    measured: tuple[str, ...]
    """Fields of the report that this exercise is done for."""
    approaches: tuple[Approach, ...] = ("standing",)
    """What may come before the first flight of a repetition."""
    take_off_sides: tuple[Side, ...] = ("both",)
    landing_sides: tuple[Side, ...] = ("both",)
    is_same_foot: bool = False
    """One foot leaves and the same one lands."""
    flights: tuple[int, int] = (1, 1)
    """Fewest and most flights in one repetition, the drop from the box not counted."""
    is_from_box: bool = False
    turn_deg: float | None = None
    """Size of the turn in the air, either way."""
    alternates: bool = False
    asked_hold_s: float | None = 1.0
    """How long the last landing is to be held."""
    is_on_lane: bool = False
    """Timed along a lane; nothing is jumped."""
    invalid: Mapping[Expectation, str] = field(default_factory=dict)
    """Why a repetition does not count, for each expectation that it can miss."""
