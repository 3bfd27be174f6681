"""A sheet of paper: headings, tables, drawings and small print, as PDF."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from fpdf import FPDF
from fpdf.fonts import FontFace

INK = (20, 35, 43)
LEAD = (11, 90, 120)
FONTS = Path(__file__).parent / "fonts"
DEBIAN_FONTS = Path("/usr/share/fonts/truetype/dejavu")


class Sheet:
    """Collects what goes on the pages.

    Parameters
    ----------
    title : str
    """

    def __init__(self, title: str) -> None:
        self._pdf = FPDF(format="A4")
        self._pdf.set_title(title)
        self._pdf.set_creator("flightmark")
        self._family, self._is_wide = _choose_font(self._pdf)
        self._pdf.set_auto_page_break(True, 18)
        self._pdf.set_margins(16, 16)
        self._pdf.add_page()
        self._pdf.set_text_color(*LEAD)
        self._write("flightmark", size=10)
        self._pdf.set_text_color(*INK)
        self._write(title, size=18)
        self._pdf.ln(2)

    def heading(self, text: str) -> None:
        """Begin a part."""
        if self._pdf.get_y() > 235:
            self._pdf.add_page()
        self._pdf.ln(3)
        self._write(text, size=12.5)
        self._pdf.set_draw_color(*LEAD)
        y = self._pdf.get_y()
        self._pdf.line(16, y, 194, y)
        self._pdf.ln(2)

    def paragraph(self, text: str) -> None:
        """Put small print."""
        self._write(text, size=8.5)
        self._pdf.ln(1.5)

    def table(self, names: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Put a table."""
        self._pdf.set_font(self._family, size=9.5)
        head = FontFace(emphasis="", color=LEAD)
        with self._pdf.table(
            headings_style=head, borders_layout="HORIZONTAL_LINES", line_height=6.5
        ) as table:
            for row in [names, *rows]:
                cells = table.row()
                for text in row:
                    cells.cell(self._fit(text))

    def drawing(self, svg: str) -> None:
        """Put a drawing, as lines and letters."""
        if svg:
            if self._pdf.get_y() > 200:
                self._pdf.add_page()
            plain = svg.replace("currentColor", "#14232b").replace("sans-serif", self._family)
            self._pdf.image(io.BytesIO(plain.encode()), w=150)
            self._pdf.ln(2)

    def finish(self) -> bytes:
        """Give the file."""
        return bytes(self._pdf.output())

    def _write(self, text: str, *, size: float) -> None:
        self._pdf.set_font(self._family, size=size)
        self._pdf.multi_cell(0, size * 0.5, self._fit(text), new_x="LMARGIN", new_y="NEXT")

    def _fit(self, text: str) -> str:
        """Give text as the font can write it: only a built-in font needs that."""
        if self._is_wide:
            return text
        swapped = text.replace("−", "-").replace("–", "-").replace("√", "sqrt ")
        return swapped.encode("latin-1", "replace").decode("latin-1")


def _choose_font(pdf: FPDF) -> tuple[str, bool]:
    """Take a font with every letter where the machine has one."""
    for folder in (FONTS, DEBIAN_FONTS):
        path = folder / "DejaVuSans.ttf"
        if path.is_file():
            pdf.add_font("dejavu", "", path)
            return "dejavu", True
    return "helvetica", False
