"""Pages run as their viewer, without a browser."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from app.history.clip_jobs import Upload
from app.history.plans import Entry, PlannedDay
from app.history.reviews import MovedMeanwhile
from app.review_events import list_events, make_move
from app.seen import own_shelf
from app.standing import Standing
from app.web import session
from app.web.asgi import SCRIPT
from app.web.leaving import delete_everything
from app.web.services import Services
from measure.report import ForceProfile, MarkTime, SplitTime
from tests.app.reports import a_sprint
from tests.app.web.conftest import Team, keep_clip

PAGES = ("squad", "review", "compare", "follow", "table", "plan", "film", "places", "people",
         "clip", "me")  # fmt: skip


KINDS = ("title", "subheader", "markdown", "caption", "info", "warning", "error", "success")


@pytest.fixture(autouse=True)
def _main_module_put_back() -> Iterator[None]:
    """A page that ran stays the main module, and a worker started later would run it again."""
    before = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = before


def open_page(
    name: str, cookie: str | None, monkeypatch: pytest.MonkeyPatch, **query: object
) -> AppTest:
    """Run one page as whoever a cookie belongs to."""
    monkeypatch.setattr(session, "read_cookie", lambda: cookie)
    # Parts register themselves once with a server; every run here has a server of its own.
    for module in [m for m in sys.modules if m.startswith(("app.web.pages", "app.web.comp"))]:
        monkeypatch.delitem(sys.modules, module)
    page = AppTest.from_string(
        f"from app.web.pages import {name}\n{name}.show()\n", default_timeout=30
    )
    for key, value in query.items():
        page.query_params[key] = str(value)
    return page.run()


def words(page: AppTest) -> str:
    """All that a page says."""
    parts: list[Any] = []
    for kind in KINDS:
        parts += [each.value for each in getattr(page, kind)]
    parts += [each.proto.body for each in page.get("html")]
    return "\n".join(str(part) for part in parts)


@pytest.mark.parametrize("name", PAGES)
def test_every_page_of_a_coach_runs_empty_and_with_a_clip(
    name: str, at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not open_page(name, ours.coach_cookie, monkeypatch).exception
    for content in ("one", "another"):
        keep_clip(at, ours.athlete_id, content=content)
    assert not open_page(name, ours.coach_cookie, monkeypatch).exception


@pytest.mark.parametrize("name", ["today", "film", "clip", "follow", "me"])
def test_every_page_of_an_athlete_runs(
    name: str, at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_clip(at, ours.athlete_id)
    assert not open_page(name, ours.athlete_cookie, monkeypatch).exception


@pytest.mark.parametrize("name", ["squad", *PAGES])
def test_signed_out_no_page_shows_anything(
    name: str, at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = open_page(name, None, monkeypatch)
    assert page.warning[0].value == "You are signed out."
    assert not page.title


@pytest.mark.parametrize("name", ["review", "compare", "table", "plan", "places", "people"])
def test_an_athlete_gets_nothing_from_a_coachs_page(
    name: str, at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_clip(at, ours.athlete_id)
    page = open_page(name, ours.athlete_cookie, monkeypatch, id=1)
    assert "nothing of yours" in words(page)
    assert "Bo" not in words(page)


def test_anothers_clip_is_not_there_by_its_address(
    at: Services, ours: Team, theirs: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip_id = keep_clip(at, theirs.athlete_id)
    job_id = at.desk.jobs.list_for(theirs.athlete_id)[0].job_id
    for query in ({"id": clip_id}, {"job": job_id}):
        for cookie in (ours.coach_cookie, ours.athlete_cookie):
            page = open_page("clip", cookie, monkeypatch, **query)
            assert "nothing of yours" in words(page)
    assert "nothing of yours" in words(
        open_page("review", ours.coach_cookie, monkeypatch, id=clip_id)
    )
    follow = open_page("follow", ours.coach_cookie, monkeypatch, athlete=theirs.athlete_id)
    assert "Dag" not in str(follow.selectbox[0].options)


def test_a_result_says_the_number_with_its_doubt_and_what_to_beat(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = keep_clip(at, ours.athlete_id, content="a", height_com_m=0.30)
    second = keep_clip(at, ours.athlete_id, content="b", height_com_m=0.27)
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=first))
    assert "30.0" in said
    assert "± 0.8 cm" in said
    assert "Your first of this kind" in said
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=second))
    assert "What to beat next: 30.0 cm" in said
    at.desk.people.set_units(ours.athlete.account_id, uses_inches=True, uses_yards=False)
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=second))
    assert "What to beat next: 11.8 in" in said


def test_a_rest_is_held_against_the_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    from app.web import clip_numbers

    said: list[str] = []
    monkeypatch.setattr(clip_numbers.st, "write", lambda text: said.append(text.replace("\\", "")))
    planned = Entry("Jumps", "vertical", 3, 5, pause_s=30.0, rest_s=120.0)
    for rest_s in (20, 60, None):
        rest = None if rest_s is None else timedelta(seconds=rest_s)
        clip_numbers.show_rest(Standing(None, "height_m", None, None, rest), planned)  # type: ignore[arg-type]
    assert "rested 20 s" in said[0]
    assert "too short" in said[0]
    assert "rested 1 min" in said[1]
    assert "too short" not in said[1]
    assert said[2] == "The plan asks for 30 s between repetitions and 2 min between sets."


def test_the_list_of_results_names_the_number_and_a_coach_reads_what_it_means(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip_id = keep_clip(at, ours.athlete_id, height_com_m=0.301)
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch))
    assert "30.1 ± 0.8 cm" in said.replace("\\", "")
    said = words(open_page("review", ours.coach_cookie, monkeypatch, id=clip_id))
    assert "centre of mass rose" in said


def test_a_coach_sees_the_smallest_change_that_matters_among_the_squad(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session, "now", lambda: datetime(2026, 3, 6, tzinfo=UTC))
    people, now = at.desk.people, datetime.now(UTC)
    athletes = [ours.athlete_id]
    athletes += [
        people.add_athlete(
            ours.coach, team_id=ours.team_id, name=name, stature_m=None, now=now
        )
        for name in ("Ida", "Jo", "Kai")
    ]  # fmt: skip
    for number, athlete_id in enumerate(athletes):
        keep_clip(at, athlete_id, content=f"clip {number}", height_com_m=0.2 + 0.05 * number)
    said = words(open_page("follow", ours.coach_cookie, monkeypatch))
    assert "smallest change" not in said  # four are too few to know the spread
    fifth = people.add_athlete(
        ours.coach, team_id=ours.team_id, name="Lu", stature_m=None, now=now
    )
    keep_clip(at, fifth, content="clip 5", height_com_m=0.4)
    said = words(open_page("follow", ours.coach_cookie, monkeypatch))
    # 0.2 of the standard deviation of 20, 25, 30, 35 and 40 cm, which is 7.906 cm
    assert "smallest change that matters</span><b>1.6 cm" in said
    assert "Hopkins 2000" in said
    said = words(open_page("follow", ours.athlete_cookie, monkeypatch))
    assert "smallest change" not in said  # that would be the others' numbers


def test_moving_an_event_by_hand_and_putting_it_back(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip_id = keep_clip(at, ours.athlete_id)
    page = open_page("review", ours.coach_cookie, monkeypatch, id=clip_id)
    page.number_input[0].set_value(1.15)
    page.text_input[0].set_value("the toe left earlier <script>")
    next(b for b in page.button if b.label == "Move it").click().run()
    assert not page.exception
    assert "37.1 ± 1.4 cm" in words(page)
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    assert clip.report["jumps"][0]["flight_time_s"] == pytest.approx(0.55)
    move = at.desk.reviews.list_moves(clip_id)[0]
    assert (move.by_name, move.from_s, move.to_s) == ("Ada", 1.2, 1.15)
    assert at.files.find_annotated(clip.clip_sha256) is None  # it showed the event as it was
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=clip_id))
    assert f"/files/{clip.clip_sha256}/clip" in said
    assert "could not be drawn" in said  # no worker here
    page = open_page("review", ours.coach_cookie, monkeypatch, id=clip_id)
    next(b for b in page.button if b.label.startswith("Put back")).click().run()
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    assert clip.report["jumps"][0]["flight_time_s"] == 0.5
    assert at.desk.reviews.list_moves(clip_id)[0].undone_by == "Ada"
    assert "<script>" not in words(page)


def test_two_coaches_who_move_the_same_event_do_not_overwrite_each_other(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip_id = keep_clip(at, ours.athlete_id)
    page = open_page("review", ours.coach_cookie, monkeypatch, id=clip_id)
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    event = list_events(clip.report)[0]
    move = make_move(event, 1.19, clip.report, is_frame=False)
    stale = clip
    at.desk.reviews.move_event(clip, move, why="x", by_name="Other", now=datetime.now(UTC))
    with pytest.raises(MovedMeanwhile, match="Somebody else"):
        at.desk.reviews.move_event(stale, move, why="y", by_name="Ada", now=datetime.now(UTC))
    assert len(at.desk.reviews.list_moves(clip_id)) == 1
    page.text_input[0].set_value("as I saw it")
    next(b for b in page.button if b.label == "Move it").click().run()
    assert "Other changed this clip while you were looking" in words(page)
    assert len(at.desk.reviews.list_moves(clip_id)) == 1
    page.text_input[0].set_value("as it is now")
    page.number_input[0].set_value(1.16)
    next(b for b in page.button if b.label == "Move it").click().run()
    assert "while you were looking" not in words(page)
    assert len(at.desk.reviews.list_moves(clip_id)) == 2


def test_a_rejected_repetition_counts_no_more(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    best = keep_clip(at, ours.athlete_id, content="a", height_com_m=0.40)
    other = keep_clip(at, ours.athlete_id, content="b", height_com_m=0.30)
    at.desk.reviews.judge(
        best, jump_number=1, is_accepted=False, reason="Stepped.", by_name="Ada",
        now=datetime.now(UTC),
    )  # fmt: skip
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=other))
    assert "40.0" not in said
    said = words(open_page("clip", ours.athlete_cookie, monkeypatch, id=best))
    assert "left out by Ada. Stepped." in said


def test_script_in_a_name_is_only_text(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "<img src=x onerror=alert(1)> ![x](http://evil.example/x.png)"
    at.desk.people.rename_athlete(ours.athlete_id, name, stature_m=1.7)
    clip_id = keep_clip(at, ours.athlete_id)
    at.desk.reviews.write_note(
        clip_id, text="<script>alert(1)</script>", by_name="Ada", now=datetime.now(UTC)
    )
    for page_name in ("clip", "review", "squad", "table"):
        page = open_page(page_name, ours.coach_cookie, monkeypatch, id=clip_id)
        said = words(page)
        assert "<img" not in said.replace('<img loading="lazy"', "").replace("\\<img", "")
        assert "<script>alert" not in said
        markdown = [each.value for each in (*page.markdown, *page.title, *page.caption)]
        assert "![x](" not in "".join(markdown)  # nothing is fetched from anywhere


def test_todays_plan_is_shown_in_order_and_ticked_off(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    today = date.today()
    entries = (Entry("Warm-up"), Entry("Jumps", "vertical", 3, 5, rest_s=120.0, pair="A"))
    at.desk.plans.save_day(PlannedDay(ours.team_id, today, "Power", entries))
    page = open_page("today", ours.athlete_cookie, monkeypatch)
    said = words(page)
    assert said.index("Warm") < said.index("Jumps")
    assert "rest 120 s between sets" in said
    page.checkbox[0].check().run()
    entry = at.desk.plans.list_days([ours.team_id], first=today, last=today)[0].entries[0]
    assert at.desk.plans.list_ticks([entry.entry_id or 0]) == {(entry.entry_id, ours.athlete_id)}


def test_last_week_is_copied_with_a_little_more(at: Services, ours: Team) -> None:
    monday = date(2026, 3, 2)
    entries = (Entry("Warm-up"), Entry("Jumps", "vertical", 3, 5))
    at.desk.plans.save_day(PlannedDay(ours.team_id, monday, "Power", entries))
    assert at.desk.plans.copy_week(ours.team_id, monday=monday, more_repetitions=1) == 1
    assert at.desk.plans.copy_week(ours.team_id, monday=monday) == 0  # planned already
    week = timedelta(days=7)
    copied = at.desk.plans.list_days([ours.team_id], first=monday + week, last=monday + week)[0]
    assert [each.repetitions for each in copied.entries] == [1, 6]


def test_delete_everything_about_me_takes_the_files_too(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch, data_folder: Path
) -> None:
    clip = at.desk.reviews.find_clip(keep_clip(at, ours.athlete_id, content="mine"))
    assert clip is not None
    own_shelf().save(clip.clip_sha256, "look.npz", b"body points")
    page = open_page("me", ours.athlete_cookie, monkeypatch)
    page.text_input[0].set_value("delete").run()
    next(b for b in page.button if b.label == "Delete everything").click().run()
    assert page.warning[0].value == "You are signed out."
    for folder in ("store", "seen"):
        assert [p for p in (data_folder / folder).rglob("*") if p.is_file()] == []
    with at.desk.history._engine.connect() as connection:
        for table in ("athlete", "clip", "result", "jump", "clip_job", "consent"):
            count = connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar()
            assert count == 0, table


def test_a_clip_that_two_athletes_have_stays_for_the_other(at: Services, ours: Team) -> None:
    other = at.desk.people.add_athlete(
        ours.coach, team_id=ours.team_id, name="Ida", stature_m=None, now=datetime.now(UTC)
    )
    clip_id = keep_clip(at, ours.athlete_id)
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    at.desk.jobs.submit(Upload(other, clip.clip_sha256, "x.mp4", ".mp4"), now=datetime.now(UTC))
    delete_everything(at, ours.athlete_id)
    assert at.files.find_clip(clip.clip_sha256) is not None


def test_the_first_visit_of_a_server_may_be_to_any_page() -> None:
    # Beside a folder of that name Streamlit shows its files instead, until the script first ran.
    assert not (SCRIPT.parent / "pages").exists()
    assert SCRIPT.exists()


def test_a_coach_writes_a_day_line_by_line(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    def saved() -> list[tuple[str, int, float | None]]:
        days = at.desk.plans.list_days([ours.team_id], first=date.today(), last=date.today())
        return [(e.text, e.sets, e.rest_s) for day in days for e in day.entries]

    page = open_page("plan", ours.coach_cookie, monkeypatch)

    def fill(text: str, **numbers: float) -> None:
        next(box for box in page.text_input if box.label == "In your words").set_value(text)
        for label, number in numbers.items():
            next(b for b in page.number_input if b.label.startswith(label)).set_value(number)

    def press(label: str) -> None:
        next(button for button in page.button if button.label == label).click().run()
        assert not page.exception

    fill("Jumps", Sets=4, Rest=90.0)
    press("Save this line")
    fill("Skips", Place=1)
    press("Save this line")
    assert saved() == [("Skips", 3, None), ("Jumps", 4, 90.0)]
    next(box for box in page.selectbox if box.label == "Line").set_value(2).run()
    fill("Jumps", Sets=5)
    press("Save this line")
    assert saved() == [("Skips", 3, None), ("Jumps", 5, 90.0)]
    next(box for box in page.selectbox if box.label == "Line").set_value(1).run()
    press("Remove this line")
    assert saved() == [("Jumps", 5, 90.0)]


def test_a_clip_without_numbers_waits_until_a_coach_has_looked(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = datetime.now(UTC)
    upload = Upload(ours.athlete_id, "ab" * 32, "dark.mp4", ".mp4", "vertical")
    job_id = at.desk.jobs.submit(upload, now=now)
    order = at.desk.jobs.claim_next(server="here:1", now=now)
    assert order is not None
    at.desk.jobs.refuse(order, message="It is too dark.", hint="Film by day.", now=now)

    def waiting() -> str:
        page = open_page("squad", ours.coach_cookie, monkeypatch)
        assert not page.exception
        return words(page)

    assert "dark" in waiting()
    page = open_page("clip", ours.coach_cookie, monkeypatch, job=job_id)
    assert "Film by day." in words(page)
    assert "Places" not in words(page)  # that is for runs
    next(b for b in page.button if b.label == "I have looked at it").click().run()
    assert "Nothing waits." in waiting()


def test_a_run_is_shown_and_compared_in_yards(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.desk.people.set_units(ours.coach.account_id, uses_inches=False, uses_yards=True)
    marks = (MarkTime(9.144, 2.5, 0.01), MarkTime(18.288, 4.1, 0.01))
    force = ForceProfile(*(float(k) for k in range(1, 11)), mass_kg=61.0, stature_m=1.7)
    for content, time_s in (("one", 1.62), ("two", 1.58)):
        splits = (SplitTime(9.144, 1.7, 0.01), SplitTime(18.288, time_s, 0.01, 9.144))
        run = a_sprint(
            marks=marks, splits=splits, start_rule="first_movement", force_profile=force
        )
        clip_id = keep_clip(at, ours.athlete_id, content=content, sprint=run)
    for name, expected in (
        ("clip", "10 yd to 20 yd"), ("review", "10 yd to 20 yd"), ("clip", "highest speed"),
        ("clip", "Forward force over speed, for 61 kg"), ("clip", ">since the start<"),
        ("clip", ">3.30 ± 0.01 s<"), ("clip", "Time, 10 yd to 20 yd"),
    ):  # fmt: skip
        page = open_page(name, ours.coach_cookie, monkeypatch, id=clip_id)
        assert not page.exception
        assert expected in words(page).replace("\\", "")
    for name in ("follow", "table"):
        page = open_page(name, ours.coach_cookie, monkeypatch)
        if name == "table":
            page.radio[0].set_value("all").run()
        kinds = [str(option) for box in page.selectbox for option in box.options]
        assert "sprint, 10 yd to 20 yd, grass" in kinds
    page = open_page("compare", ours.coach_cookie, monkeypatch)
    assert not page.exception
    assert page.radio[1].options == ["start", "10 yd", "20 yd"]


def test_height_and_mass_are_given_by_the_athlete_or_the_coach(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = open_page("me", ours.athlete_cookie, monkeypatch)
    for box, value in zip(page.number_input, (170.5, 61.5), strict=True):
        box.set_value(value)
    next(button for button in page.button if button.label == "Keep").click().run()
    face = at.desk.people.list_athletes(ours.coach)[0]
    assert (face.stature_m, face.mass_kg) == (1.705, 61.5)
    page = open_page("people", ours.coach_cookie, monkeypatch)
    boxes = [box for box in page.number_input if box.label == "Body mass, kg"]
    assert [box.value for box in boxes] == [None, 61.5]  # of a new one, and of Bo
    boxes[1].set_value(62.0)
    next(button for button in page.button if button.label == "Keep").click().run()
    assert at.desk.people.list_athletes(ours.coach)[0].mass_kg == 62.0


def test_an_agreement_on_paper_is_kept(
    at: Services, ours: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = open_page("people", ours.coach_cookie, monkeypatch)
    next(box for box in page.text_input if box.label == "Who agreed").set_value("Fay")
    next(box for box in page.checkbox if box.label.startswith("as parent")).check()
    next(button for button in page.button if button.label == "Keep the agreement").click().run()
    assert not page.exception
    kept = at.desk.people.list_consents(ours.athlete_id)
    assert (kept[-1].given_by, kept[-1].is_guardian) == ("Fay", True)
