"""A change and whether it stands out from noise, in a few words."""

from __future__ import annotations

from app.following import Change
from app.repetitions import Quantity
from app.report.units import Units

SMALL_DOUBT = 0.95


def say_change(change: Change | None, quantity: Quantity, units: Units) -> tuple[str, str]:
    """Give the change with its doubt, and the answer to "is it real?".

    Parameters
    ----------
    change : Change or None
    quantity : Quantity
    units : Units

    Returns
    -------
    (str, str)
    """
    if change is None:
        return "–", "nothing in one of the weeks"
    if change.change.value == 0:
        return "0", "the same week"
    sign = "+" if change.change.value > 0 else "−"
    size = units.quantity(quantity.unit, abs(change.change.value), change.change.sigma)
    return f"{sign}{size}", _answer(change, quantity)


def _answer(change: Change, quantity: Quantity) -> str:
    is_better = (change.change.value > 0) == quantity.more_is_better
    word = "better" if is_better else "worse"
    if change.is_real is None:
        far = abs(change.change.value) > 2 * change.change.sigma
        return f"perhaps {word}; too few days to know" if far else "too few days to know"
    return f"yes, {word}" if change.is_real else "within own variation"
