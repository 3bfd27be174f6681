"""Words and charts: no day of another year is taken for one of this."""

from __future__ import annotations

from datetime import date, timedelta

from app.following import follow
from app.report.charts import draw_trend
from app.report.units import Units
from app.web import say
from tests.app.test_team_table import a_repetition


def test_days_of_another_year_say_so() -> None:
    today = date.today()
    assert str(today.year) not in say.day(today)
    long_ago = today - timedelta(days=400)
    assert say.day(long_ago).endswith(f" {long_ago.year}")


def test_a_chart_over_years_names_them() -> None:
    first = date(2024, 12, 1)
    day, month = ">1 Dec<", ">Dec 2024<"
    for span_days, expected, other in ((60, day, month), (600, month, day)):
        days = [first, first + timedelta(days=span_days)]
        found = [a_repetition(1, "Bo", on_date=day, height_m=0.3) for day in days]
        svg = draw_trend(follow(found, "height_m"), units=Units(), name="jump")
        assert expected in svg
        assert other not in svg
