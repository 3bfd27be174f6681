"""Athletes side by side, only like with like."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from app.following import METHOD_SAID, smallest_worthwhile
from app.repetitions import QUANTITIES, Repetition, counting, main_quantity
from app.report.change_words import say_change
from app.report.charts import draw_small
from app.report.units import Units
from app.team_table import ORDERS, TeamLine, compare_team, falls, list_kinds, sort_lines
from app.web import say
from app.web.asking import monday_of, team_repetitions
from app.web.components import Order, order_asked, show_sortable, show_svg
from app.web.links import link
from app.web.pages.follow import TRENDED
from app.web.session import at_desk, not_yours, now, units_of, viewer_now

SPANS = {"twelve weeks": timedelta(weeks=12), "a year": timedelta(weeks=52), "all": None}
LINES_AT_ONCE = 40
TABLE_KEY = "team-table"


def show() -> None:
    """Show a team's table."""
    viewer, at = viewer_now(), at_desk()
    if not viewer.is_coach:
        not_yours()
    st.title("Team table")
    teams = at.desk.people.list_teams(viewer)
    team = st.selectbox("Team", teams, format_func=lambda each: each.name)
    if team is None:
        return
    faces = at.desk.people.list_athletes(viewer, team_id=team.team_id)
    span = st.radio("Over", list(SPANS), horizontal=True)
    since = None if SPANS[span] is None else now().date() - SPANS[span]
    ids = [face.athlete_id for face in faces]
    repetitions = counting(team_repetitions(at, ids, since=since))
    if not repetitions:
        st.info("Nothing is measured in this team in this time.")
    else:
        _show(repetitions, units_of(viewer))
    st.markdown(
        f"[All numbers as CSV](/sheets/team/{team.team_id}.csv) · "
        f"[Team sheet to print (PDF)](/sheets/team/{team.team_id}.pdf)"
    )


def _show(repetitions: list[Repetition], units: Units) -> None:
    columns = st.columns(3)
    kinds = list_kinds(repetitions)
    kind = columns[0].selectbox("Exercise", kinds, format_func=lambda each: each.name(units))
    alike = [each for each in repetitions if each.kind == kind]
    keys = ["split"] if kind.is_sprint else [
        key for key in TRENDED if any(each.value(key) is not None for each in alike)
    ]  # fmt: skip
    usual = main_quantity(alike)
    key = columns[1].selectbox(
        "Number", keys, index=keys.index(usual) if usual in keys else 0,
        format_func=lambda each: QUANTITIES[each].name,
    )  # fmt: skip
    weeks = sorted({monday_of(each.on_date) for each in alike})
    since = columns[2].selectbox("Change since the week of", weeks, format_func=say.day)
    lines = compare_team(
        repetitions, kind, key, first_week=since, last_week=weeks[-1]
    )
    order = order_asked(TABLE_KEY, first=ORDERS[0])
    ordered = sort_lines(lines, order.by, key, is_turned=order.is_turned)
    first = 0
    if len(ordered) > LINES_AT_ONCE:
        starts = range(0, len(ordered), LINES_AT_ONCE)
        first = st.selectbox(
            "Lines", starts, format_func=lambda start: _lines_said(start, len(ordered))
        )
    shown = ordered[first : first + LINES_AT_ONCE]
    _table(shown, key, units, weeks=(since, weeks[-1]), order=order)


def _lines_said(start: int, count: int) -> str:
    return f"{start + 1} to {min(start + LINES_AT_ONCE, count)} of {count}"


def _table(
    lines: list[TeamLine], key: str, units: Units, *, weeks: tuple[date, date], order: Order
) -> None:
    unit = QUANTITIES[key].unit
    head = ["athlete", "best", "last day", f"change since {say.day(weeks[0])}", "is it real?"]
    rows = []
    for line in lines:
        best = "–" if line.best is None else units.quantity(
            unit, line.best.value(key), line.best.sigma(key))  # fmt: skip
        last = line.days[-1]
        words = say_change(line.change, QUANTITIES[key], units)
        rows.append([line.athlete, best, units.quantity(unit, last.value, last.sigma), *words])
    show_sortable(
        head, rows, orders=ORDERS, order=order,
        falls=falls(order.by, key, is_turned=order.is_turned),
        caption="Press a head to order the lines by it.", key=TABLE_KEY,
    )  # fmt: skip
    st.caption(
        f"Change: the week of {say.day(weeks[1])} against the week of {say.day(weeks[0])}, "
        "only like with like: same exercise, side, start rule, marks and surface."
    )
    if lines and isinstance(matters := smallest_worthwhile(lines[0].squad_means), float):
        least = units.quantity(unit, matters)
        said = f"The smallest change that matters here is {least}: 0.2 of the spread between "
        st.caption(say.plain(f"{said}these athletes (Hopkins 2000)."))
    with st.expander("How this is worked out"):
        st.write(say.plain(METHOD_SAID))
    st.subheader("Over weeks")
    st.caption("The band is the athlete’s own variation from day to day about the trend.")
    for place, line in enumerate(lines):
        name, chart = st.columns([1, 2])
        with name:
            link(line.athlete, "follow", athlete=line.athlete_id)
        with chart:
            svg = draw_small(line.following, name=f"{line.athlete} over weeks")
            if svg:
                show_svg(svg, key=f"small{place}{line.athlete_id}")
            else:
                st.caption("one day so far")


