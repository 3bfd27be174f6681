"""Tables and sheets to take away: CSV, and PDF for a team and for one athlete."""

from __future__ import annotations

import csv
import io
from datetime import date

from app.accounts.people import Viewer
from app.following import METHOD_SAID, follow
from app.repetitions import (
    QUANTITIES,
    Repetition,
    counting,
    find_best,
    group_by_kind,
    main_quantity,
    sigma_name,
)
from app.report.change_words import say_change
from app.report.charts import draw_trend
from app.report.sheet import Sheet
from app.report.text import SIGMA_SAID, STANDING_NOTICE
from app.report.units import Units
from app.team_table import compare_team, sort_lines
from app.web.asking import athlete_repetitions, monday_of, team_repetitions
from app.web.services import Services

CSV_NUMBERS = ("height_com_m", "height_m", "height_standing_m", "contact_time_s", "rsi_mps")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def team_csv(at: Services, viewer: Viewer, *, team_id: int) -> str:
    """Give every repetition of a team, SI units in the column names."""
    faces = at.desk.people.list_athletes(viewer, team_id=team_id)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    pairs = [name for key in CSV_NUMBERS for name in (key, sigma_name(key))]
    writer.writerow(["athlete", "date", "exercise", "side", "start_rule", "marks", "surface",
                     "clip", "jump", "accepted", *pairs, "time_s", "time_sigma_s"])  # fmt: skip
    for each in team_repetitions(at, [face.athlete_id for face in faces], since=None):
        writer.writerow([_cell(value) for value in _row(each, pairs)])
    return text.getvalue()


def _row(each: Repetition, pairs: list[str]) -> list[object]:
    accepted = {None: "", True: "yes", False: "no"}[each.is_accepted]
    kind = each.kind
    return [
        each.clip.athlete, each.on_date.isoformat(), kind.exercise, kind.side, kind.start_rule,
        kind.stretch(Units()), kind.surface, each.clip.file_name, each.number or "", accepted,
        *(each.numbers.get(name, "") for name in pairs),
        each.numbers.get("split", ""), each.numbers.get("split_sigma", ""),
    ]  # fmt: skip


def _cell(value: object) -> object:
    # A spreadsheet would run a name that begins like a formula.
    is_risky = isinstance(value, str) and value.startswith(FORMULA_STARTS)
    return f"'{value}" if is_risky else value


def team_pdf(at: Services, viewer: Viewer, *, team_id: int) -> bytes:
    """Give a team's sheet: a table for each kind of repetition."""
    units = Units(viewer.uses_inches, viewer.uses_yards)
    name = next(t.name for t in at.desk.people.list_teams(viewer) if t.team_id == team_id)
    faces = at.desk.people.list_athletes(viewer, team_id=team_id)
    repetitions = counting(team_repetitions(at, [face.athlete_id for face in faces], since=None))
    sheet = Sheet(f"{name}, {date.today().isoformat()}")
    for kind, alike in group_by_kind(repetitions).items():
        key = main_quantity(alike)
        weeks = sorted({monday_of(each.on_date) for each in alike})
        lines = compare_team(
            repetitions, kind, key, first_week=weeks[0], last_week=weeks[-1]
        )
        rows = []
        for line in sort_lines(lines, "best", key):
            best = "" if line.best is None else units.quantity(
                QUANTITIES[key].unit, line.best.value(key), line.best.sigma(key))  # fmt: skip
            last = line.days[-1]
            rows.append([line.athlete, best,
                         units.quantity(QUANTITIES[key].unit, last.value, last.sigma),
                         *say_change(line.change, QUANTITIES[key], units)])  # fmt: skip
        sheet.heading(f"{kind.name(units)}: {QUANTITIES[key].name}")
        sheet.table(["athlete", "best", "last day", f"since {weeks[0]:%d %b}", "real?"], rows)
    sheet.paragraph(SIGMA_SAID)
    sheet.paragraph(METHOD_SAID)
    return sheet.finish()


def athlete_pdf(at: Services, viewer: Viewer, *, athlete_id: int) -> bytes:
    """Give one athlete's sheet: a chart for each kind of repetition."""
    units = Units(viewer.uses_inches, viewer.uses_yards)
    repetitions = counting(athlete_repetitions(at, viewer, athlete_id))
    faces = at.desk.people.list_athletes(viewer)
    name = next(face.name for face in faces if face.athlete_id == athlete_id)
    sheet = Sheet(f"{name}, {date.today().isoformat()}")
    for kind, alike in group_by_kind(repetitions).items():
        key = main_quantity(alike)
        unit, best = QUANTITIES[key].unit, find_best(alike, key)
        following = follow(alike, key)
        sheet.heading(f"{kind.name(units)}: {QUANTITIES[key].name}")
        if best is not None:
            shown = units.quantity(unit, best.value(key), best.sigma(key))
            sheet.paragraph(f"Best {shown} on {best.on_date}; {len(alike)} repetitions on "
                            f"{len(following.days)} days.")  # fmt: skip
        sheet.drawing(draw_trend(following, units=units, name=kind.name(units), ink="#14232b"))
    sheet.paragraph(SIGMA_SAID)
    sheet.paragraph(METHOD_SAID)
    sheet.paragraph(STANDING_NOTICE)
    return sheet.finish()
