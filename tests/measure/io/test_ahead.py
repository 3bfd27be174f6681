"""One thread ahead of another: the same things, faults in their place, no thread left over."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from measure.io.ahead import read_ahead


def test_the_same_things_in_the_same_order() -> None:
    assert list(read_ahead(iter(range(100)), at_most=3)) == list(range(100))


def test_a_fault_comes_after_what_came_before_it() -> None:
    def things() -> Iterator[int]:
        yield 1
        raise ValueError("the film is torn")

    taken = read_ahead(things(), at_most=2)
    assert next(taken) == 1
    with pytest.raises(ValueError, match="the film is torn"):
        next(taken)


def test_no_more_wait_than_may_and_none_runs_on_when_nobody_takes() -> None:
    made: list[int] = []

    def things() -> Iterator[int]:
        for number in range(1000):
            made.append(number)
            yield number

    before = threading.active_count()
    taken = read_ahead(things(), at_most=2)
    assert next(taken) == 0
    taken.close()
    assert threading.active_count() == before
    assert len(made) <= 6
