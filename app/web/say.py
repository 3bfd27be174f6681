"""Text on pages: what comes from people is shown as it is and never as markup."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from app.report.charts import ONE_SEASON

if TYPE_CHECKING:
    from app.history.reviews import ClipRecord

FITS_A_PHONE = 3
"""A wider table stands line under line there."""
MARKUP = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>~$:/&@=^])")

_SHEETS = [(Path(__file__).parent / "parts" / f"{name}.css") for name in ("page", "table")]
STYLE = f"<style>{''.join(sheet.read_text('utf-8') for sheet in _SHEETS)}</style>"


def plain(text: str) -> str:
    """Give text from people for a place that reads Markdown."""
    return MARKUP.sub(r"\\\1", " ".join(text.split()))


def day(on_date: date) -> str:
    """Give a day in words; one long ago with its year."""
    is_recent = abs(date.today() - on_date) < ONE_SEASON
    return f"{on_date:%a} {on_date.day} {on_date:%b}{'' if is_recent else f' {on_date.year}'}"


def moment(at: datetime) -> str:
    """Give a moment in words, on this machine's clock."""
    local = at.astimezone()
    return f"{day(local.date())}, {local:%H:%M}"


def filmed(clip: ClipRecord) -> str:
    """Give when a clip was filmed: the day alone where the file does not say."""
    return day(clip.on_date) if clip.recorded_at is None else moment(clip.recorded_at)


def big(label: str, value: str, *, after: str = "") -> None:
    """Show one number large."""
    number, _, doubt = value.partition(" ± ")
    small = f" <small>± {escape(doubt)}</small>" if doubt else ""
    st.html(
        f'<p class="fm-label">{escape(label)}</p><div class="fm-big">{escape(number)}{small}</div>'
        f"<p>{escape(after)}</p>"
    )


def facts(pairs: Sequence[tuple[str, str]]) -> None:
    """Show some numbers side by side."""
    cells = "".join(
        f'<div class="fm-fact"><span>{escape(name)}</span><b>{escape(value)}</b></div>'
        for name, value in pairs
    )
    st.html(f'<div class="fm-facts">{cells}</div>')


def note(head: str, text: str) -> None:
    """Show something that wants to be read, with a word in front that says of what kind it is."""
    st.html(f'<div class="fm-note"><b>{escape(head)}</b>{escape(text)}</div>')


def finding(text: str, *, seen: str, threshold: str, source: str) -> None:
    """Show something seen at a landing: what, how sure, and by whose threshold."""
    head, _, rest = text.partition(". ")
    said = f"{rest} Seen: {seen}. Threshold: {threshold} ({source})."
    note(head if head.endswith(".") else f"{head}.", said.strip())


def table(
    names: Sequence[str], rows: Sequence[Sequence[str]], *, numbers: Sequence[int] = (),
    caption: str = "",
) -> None:  # fmt: skip
    """Show rows of plain words; ``numbers`` are the columns that stand to the right."""
    st.html(table_html(names, rows, numbers=numbers, caption=caption))


def table_html(
    names: Sequence[str], rows: Sequence[Sequence[str]], *, numbers: Sequence[int] = (),
    caption: str = "",
) -> str:  # fmt: skip
    """Give rows of plain words as a table that a screen reader can walk through."""

    def cell(tag: str, column: int, text: str) -> str:
        kind = ' class="n"' if column in numbers else ""
        more = ' scope="col"' if tag == "th" else f' data-name="{escape(names[column])}"'
        return f"<{tag}{kind}{more}>{escape(text)}</{tag}>"

    head = "".join(cell("th", column, name) for column, name in enumerate(names))
    body = "".join(
        f"<tr>{''.join(cell('td', column, text) for column, text in enumerate(row))}</tr>"
        for row in rows
    )
    stacks = " fm-stack" if len(names) > FITS_A_PHONE else ""
    said = f"<caption>{escape(caption)}</caption>" if caption else ""
    return (
        f'<div class="fm-scroll" tabindex="0"><table class="fm-table{stacks}">{said}'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )
