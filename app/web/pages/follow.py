"""Progress over weeks: trend with the athlete's own variation, sides, drop-off, landings."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from app.following import (
    METHOD_SAID,
    Following,
    compare_feet,
    drop_off,
    follow,
    smallest_worthwhile,
)
from app.history.people import AthleteFace
from app.landing_patterns import PATTERN_LANDINGS, landing_patterns
from app.repetitions import (
    QUANTITIES,
    Kind,
    Repetition,
    counting,
    find_best,
    group_by_kind,
    main_quantity,
)
from app.report.charts import draw_sides, draw_trend
from app.report.text import SIGMA_SAID, STANDING_NOTICE
from app.report.units import Units
from app.team_table import squad_means
from app.web import say
from app.web.asking import athlete_repetitions, pick_athlete, team_repetitions
from app.web.components import show_svg
from app.web.session import at_desk, not_yours, now, number_asked, units_of, viewer_now
from calibration.values import Refused

SQUAD_OVER = timedelta(weeks=12)
FEWEST_ATHLETES = 5
SMALLEST_SAID = (
    "The smallest change that matters is 0.2 of the spread between your athletes over the last "
    "twelve weeks (Hopkins 2000). It says nothing of what a change is worth in play."
)
TRENDED = ("height_com_m", "height_m", "height_standing_m", "contact_time_s", "rsi_mps")


def show() -> None:
    """Show one athlete over weeks."""
    viewer, at = viewer_now(), at_desk()
    faces = at.desk.people.list_athletes(viewer)
    face = pick_athlete(faces, number_asked("athlete"))
    if face is None:
        not_yours()
    st.title("Progress")
    if viewer.is_coach:
        face = st.selectbox(
            "Athlete", faces, index=faces.index(face), format_func=lambda each: each.name
        )
    repetitions = athlete_repetitions(at, viewer, face.athlete_id)
    groups = group_by_kind(counting(repetitions))
    if not groups:
        st.info("Nothing is measured yet.")
        return
    units = units_of(viewer)
    kind = st.selectbox("Exercise", list(groups), format_func=lambda each: each.name(units))
    _trend(groups[kind], kind, units, faces=faces if viewer.is_coach else [])
    _sides(groups, kind)
    _drop_off(groups[kind])
    if viewer.is_coach:
        _landings(counting(repetitions), kind, face.sex)
    st.markdown(f"[Print this athlete’s sheet (PDF)](/sheets/athlete/{face.athlete_id}.pdf)")


def _trend(
    repetitions: list[Repetition], kind: Kind, units: Units, *, faces: list[AthleteFace]
) -> None:
    keys = [key for key in TRENDED if any(r.value(key) is not None for r in repetitions)]
    if kind.is_sprint:
        keys = ["split"]
    usual = main_quantity(repetitions)
    key = st.selectbox(
        "Number", keys, index=keys.index(usual) if usual in keys else 0,
        format_func=lambda each: QUANTITIES[each].name,
    )  # fmt: skip
    following = follow(repetitions, key)
    unit = QUANTITIES[key].unit
    best = find_best(repetitions, key)
    last = following.days[-1]
    pairs = [(f"last, {say.day(last.on_date)}", units.quantity(unit, last.value, last.sigma))]
    if best is not None:
        name = f"best, {say.day(best.on_date)}"
        pairs.append((name, units.quantity(unit, best.value(key), best.sigma(key))))
    pairs += _said(following, units)
    matters = _smallest(faces, kind, key)
    if matters is not None:
        pairs.append(("smallest change that matters", units.quantity(unit, matters)))
    say.facts(pairs)
    show_svg(draw_trend(following, units=units, name=f"{kind.name(units)}, {QUANTITIES[key].name}"),
             key=f"trend{key}{hash(kind)}")  # fmt: skip
    if isinstance(following.trend, Refused):
        st.caption(say.plain(f"No trend is told yet. {following.trend.reason} "
                             f"{following.trend.hint}"))  # fmt: skip
    with st.expander("How this is worked out"):
        st.write(say.plain(METHOD_SAID))
        if matters is not None:
            st.write(say.plain(SMALLEST_SAID))
        st.write(say.plain(QUANTITIES[key].explained))
        st.write(say.plain(SIGMA_SAID))
    with st.expander("The same as a table"):
        rows = [
            [say.day(d.on_date), units.quantity(unit, d.value, d.sigma),
             units.quantity(unit, d.best), str(d.count)]
            for d in reversed(following.days)
        ]  # fmt: skip
        say.table(["day", "mean", "best", "repetitions"], rows, numbers=(1, 2, 3))


def _smallest(faces: list[AthleteFace], kind: Kind, key: str) -> float | None:
    """Give the smallest change that matters among a coach's athletes, where they are enough."""
    if len(faces) < FEWEST_ATHLETES:
        return None
    ids, since = [face.athlete_id for face in faces], now().date() - SQUAD_OVER
    means = squad_means(counting(team_repetitions(at_desk(), ids, since=since)), kind, key)
    found = smallest_worthwhile(means)
    return None if isinstance(found, Refused) else found


def _said(following: Following, units: Units) -> list[tuple[str, str]]:
    unit = QUANTITIES[following.quantity].unit
    pairs = []
    if not isinstance(following.trend, Refused):
        slope = following.trend.slope_per_week
        sign = "+" if slope.value >= 0 else "−"
        size = units.quantity(unit, abs(slope.value), slope.sigma)
        pairs.append(("per week", f"{sign}{size}"))
    if not isinstance(following.variation, Refused):
        error = units.quantity(unit, following.variation.typical_error.value)
        pairs.append(("own variation, day to day", f"± {error}"))
        real = units.quantity(unit, following.variation.detectable_change)
        pairs.append(("a change is real beyond", real))
    return pairs


def _sides(groups: dict[Kind, list[Repetition]], kind: Kind) -> None:
    feet = {
        other.side: repetitions
        for other, repetitions in groups.items()
        if other.exercise == kind.exercise and other.side in ("left", "right")
    }
    if len(feet) < 2:
        return
    st.subheader("Left against right")
    key = main_quantity([*feet["left"], *feet["right"]])
    found = compare_feet(feet["left"], feet["right"], key)
    if isinstance(found, Refused):
        st.caption(say.plain(f"{found.reason} {found.hint}"))
        return
    days = []
    for each in found.sessions:
        size = each.difference.difference_pct.value
        signed = -size if each.difference.weaker == "left" else size
        days.append((date.fromordinal(int(each.day)), signed, each.difference.weaker))
    show_svg(draw_sides(days, name="Left against right per day"), key=f"sides{kind.exercise}")
    st.write(say.plain(found.sessions[-1].difference.text))


def _drop_off(repetitions: list[Repetition]) -> None:
    last = repetitions[-1].on_date
    today = [each for each in repetitions if each.on_date == last]
    key = main_quantity(repetitions)
    found = drop_off(today, key)
    if isinstance(found, Refused):
        return
    st.subheader(f"Within the set of {say.day(last)}")
    say.facts(
        [
            ("mean against best", f"{found.decrement_pct.value:.1f} ± "
                                  f"{found.decrement_pct.sigma:.1f} % lower"),
            ("last against first", f"{found.last_to_first_pct.value:.1f} ± "
                                   f"{found.last_to_first_pct.sigma:.1f} % lower"),
        ]
    )  # fmt: skip
    st.caption("To look at, not to judge by: between days such numbers vary by some 40 percent.")


def _landings(repetitions: list[Repetition], kind: Kind, sex: str | None) -> None:
    """Say what is seen again and again at landings of one kind, of the newest ones."""
    alike = [each for each in repetitions if each.kind == kind]
    found = landing_patterns(alike, sex=sex)
    if found is None:
        return
    st.subheader("Landings")
    first, last = found.days
    st.caption(
        f"The newest {found.landing_count} landings of this kind, {say.plain(say.day(first))} to "
        f"{say.plain(say.day(last))}; {PATTERN_LANDINGS} with the same finding make a pattern."
    )
    for item in found.cautions:
        say.finding(
            item.text, seen=item.seen, threshold=item.threshold, source=item.source
        )
    if not found.cautions:
        st.write("Nothing stands out.")
    st.caption(say.plain(STANDING_NOTICE))
