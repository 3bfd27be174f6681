"""Markers to print, one on a page, as PDF: drawn as shapes, so that no printer blurs them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from fpdf import FPDF

from measure.io.marks import draw_marker

__all__ = ["PAPERS_MM", "largest_size_m", "make_marker_sheets"]

PAPERS_MM = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
CELLS = 8
"""Across a marker with its white border: a white one, six that are printed, a white one."""
PRINTED_CELLS = 6
MARGIN_MM = 12.0
ADVICE = (
    "Print at 100 % (not fitted to the page) on matt paper, and check the length of the black "
    "square. Fold along the dashed line and stand the square upright on the ground, facing the "
    "phone, the folded part flat under it: its lower black edge is the mark. Put every number in "
    "its place once; leave the white border uncovered."
)


def largest_size_m(paper: str) -> float:
    """Give the largest black square that fits on a paper with its white border."""
    return (PAPERS_MM[paper][0] - 2 * MARGIN_MM) * PRINTED_CELLS / CELLS / 1000


def make_marker_sheets(numbers: Sequence[int], *, size_m: float, paper: str) -> bytes:
    """Draw markers.

    Parameters
    ----------
    numbers : sequence of int
        From 0 to 49.
    size_m : float
        Edge of the black square.
    paper : {"a4", "a3", "letter"}

    Returns
    -------
    bytes
        A PDF with a page for each.

    Raises
    ------
    ValueError
        For a number that no marker has, or a square that does not fit on the paper.
    """
    if not 0 < size_m <= largest_size_m(paper) + 1e-9:
        raise ValueError(f"size_m: expected up to {largest_size_m(paper):.3f} m, got {size_m}")
    pdf = FPDF(format=PAPERS_MM[paper])
    pdf.set_title("flightmark markers")
    pdf.set_auto_page_break(False)
    pdf.set_margin(MARGIN_MM)
    for number in numbers:
        pdf.add_page()
        bottom_mm = _draw(pdf, number, cell_mm=1000 * size_m / PRINTED_CELLS)
        _explain(pdf, number, size_m=size_m, top_mm=bottom_mm)
    return bytes(pdf.output())


def _draw(pdf: FPDF, number: int, *, cell_mm: float) -> float:
    """Draw a marker in the middle of the page's upper part; give where its black square ends."""
    cells = draw_marker(number, size_px=CELLS)
    left_mm = (pdf.w - CELLS * cell_mm) / 2
    pdf.set_fill_color(0)
    for row, column in np.argwhere(cells == 0).tolist():
        # A hair wider than the cell, so that no white line shows between neighbours.
        pdf.rect(left_mm + column * cell_mm, MARGIN_MM + row * cell_mm,
                 cell_mm + _hair(cells, row, column, 0, 1, cell_mm),
                 cell_mm + _hair(cells, row, column, 1, 0, cell_mm), style="F")  # fmt: skip
    bottom_mm = MARGIN_MM + (CELLS - 1) * cell_mm
    pdf.set_draw_color(120)
    pdf.set_line_width(0.2)
    pdf.set_dash_pattern(dash=2, gap=2)
    pdf.line(MARGIN_MM / 2, bottom_mm, pdf.w - MARGIN_MM / 2, bottom_mm)
    pdf.set_dash_pattern()
    return bottom_mm


def _hair(
    cells: np.ndarray, row: int, column: int, down: int, right: int, cell_mm: float
) -> float:
    return 0.02 * cell_mm if cells[row + down, column + right] == 0 else 0.0


def _explain(pdf: FPDF, number: int, *, size_m: float, top_mm: float) -> None:
    pdf.set_xy(MARGIN_MM, top_mm + 12)
    pdf.set_font("helvetica", size=20)
    pdf.cell(0, 10, f"Marker {number}      place: __________ m", new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("helvetica", size=10)
    pdf.ln(2)
    pdf.multi_cell(0, 5, f"The black square is {1000 * size_m:.0f} mm wide. {ADVICE}")
