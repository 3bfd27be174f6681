"""``flightmark markers``: what is printed is found again, and stands where it should."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import numpy as np
import pytest

from measure.io.marks import find_markers
from tests.app.conftest import Run

PT_PER_MM = 72 / 25.4
PX_PER_PT = 2
A4_PX = (round(297 * PT_PER_MM * PX_PER_PT), round(210 * PT_PER_MM * PX_PER_PT))
SHAPE = re.compile(rb"([\d.]+) ([\d.]+) ([\d.]+) (-?[\d.]+) re f")


def printed_pages(pdf: bytes) -> list[np.ndarray]:
    """Paint the filled rectangles of every page, as a printer would."""
    pages = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            shapes = SHAPE.findall(zlib.decompress(stream))
        except zlib.error:
            continue
        if shapes:
            pages.append(painted(np.array(shapes, dtype=float) * PX_PER_PT))
    return pages


def painted(shapes_px: np.ndarray) -> np.ndarray:
    page = np.full((*A4_PX, 3), 255, np.uint8)
    for left, y, wide, tall in shapes_px:
        top, bottom = sorted((A4_PX[0] - y, A4_PX[0] - y - tall))
        page[round(top) : round(bottom), round(left) : round(left + wide)] = 0
    return page


def test_markers_on_paper_are_found_with_their_numbers_and_size(run: Run) -> None:
    outcome = run("markers", "out.pdf", "--numbers", "3-5", "--size-mm", "120")
    assert (outcome.code, outcome.err) == (0, "")
    assert "3 markers" in outcome.out
    found = [find_markers(page) for page in printed_pages(Path("out.pdf").read_bytes())]
    assert [[mark.number for mark in marks] for marks in found] == [[3], [4], [5]]
    for (mark,) in found:
        assert mark.height_px == pytest.approx(120 * PT_PER_MM * PX_PER_PT, abs=2)
        # Twelve millimetres of margin and one white cell above the square.
        foot_px = (12 + 20 + 120) * PT_PER_MM * PX_PER_PT
        assert mark.px == pytest.approx((A4_PX[1] / 2, foot_px), abs=2)


def test_the_largest_square_is_taken_that_fits(run: Run) -> None:
    assert "8 markers, black square 139.5 mm wide" in run("markers", "out.pdf").out
    assert "204.8 mm" in run("markers", "out.pdf", "--paper", "a3").out


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["--numbers", "48-50"], "from 0 to 49"),
        (["--numbers", "5-3"], "from 0 to 49"),
        (["--numbers", "-"], "from 0 to 49"),
        (["--size-mm", "0"], "width of the black square"),
        (["--size-mm", "150"], "does not fit on a4; give 139 mm at most"),
        (["--paper", "napkin"], "letter"),
    ],
)
def test_a_wrong_call_is_exit_code_2(run: Run, argv: list[str], told: str) -> None:
    outcome = run("markers", "out.pdf", *argv)
    assert (outcome.code, outcome.out) == (2, "")
    assert told in outcome.err
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize("place", ["nowhere/out.pdf", "."])
def test_no_place_for_the_sheets_is_exit_code_3(run: Run, place: str) -> None:
    outcome = run("markers", place)
    assert outcome.code == 3
    assert len(outcome.err.splitlines()) == 1
    assert list(Path().iterdir()) == []
