"""What the pages keep, on every database: people, plans, the queue of clips, words about them."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from sqlalchemy import text

from app.errors import HistoryFailed
from app.history.clip_jobs import Upload
from app.history.desk import Desk, open_desk
from app.history.people_rows import Taken
from app.history.plans import Entry, PlannedDay
from app.history.reviews import MovedMeanwhile
from measure.review import EventMove
from measure.types import Instant
from tests.app.reports import a_jump, a_refusal, a_report
from tests.app.web.conftest import PASSWORD, Team, a_person, make_team

NOW = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
MONDAY = date(2026, 3, 2)


@pytest.fixture
def desk(url: str) -> Iterator[Desk]:
    opened = open_desk(url)
    yield opened
    opened.close()


@pytest.fixture
def ours(desk: Desk) -> Team:
    at: Any = SimpleNamespace(desk=desk)
    return make_team(at, "Ada", "Bo", first=True)


def queue(desk: Desk, athlete_id: int, *, content: str = "clip") -> int:
    sha256 = a_report(content=content).clip.sha256
    upload = Upload(athlete_id, sha256, f"{content}.mp4", ".mp4", "vertical")
    return desk.jobs.submit(upload, now=NOW)


def test_people_come_in_are_known_and_leave_nothing(desk: Desk, ours: Team) -> None:
    at: Any = SimpleNamespace(desk=desk)
    theirs = make_team(at, "Cleo", "Dag", first=False)
    people = desk.people
    assert people.may_see(ours.coach, ours.athlete_id)
    assert not people.may_see(ours.coach, theirs.athlete_id)
    assert [face.name for face in people.list_athletes(ours.coach)] == ["Bo"]
    assert people.sign_in("ada", "wrong", address="there", now=NOW) is None
    with pytest.raises(Taken):
        people.add_athlete(ours.coach, team_id=ours.team_id, name="dag", stature_m=None, now=NOW)
    cookie = people.sign_in("bo", PASSWORD, address="there", now=NOW)
    assert people.find_viewer(cookie, now=NOW).athlete_id == ours.athlete_id
    with pytest.raises(Taken):
        people.found_team(a_person("Ada"), team="Again", now=NOW)
    people.rename_athlete(ours.athlete_id, "Bo Ek", stature_m=1.8)
    assert people.list_athletes(ours.coach)[0].stature_m == 1.8
    people.keep_body(ours.athlete_id, stature_m=1.81, mass_kg=72.5)
    face = people.list_athletes(ours.coach)[0]
    assert (face.stature_m, face.mass_kg, face.born_on) == (1.81, 72.5, date(2000, 1, 2))
    for owner, content in ((ours, "mine"), (ours, "both"), (theirs, "both"), (theirs, "other")):
        queue(desk, owner.athlete_id, content=content)
    order = desk.jobs.claim_next(server="here", now=NOW)
    assert order.mass_kg == 72.5
    desk.jobs.finish(order, a_report(a_jump(), content="mine"), now=NOW)
    mine = a_report(content="mine").clip.sha256
    assert people.list_clip_hashes(ours.athlete_id) == [mine]
    assert desk.reviews.list_owners(mine) == [ours.athlete_id]
    people.delete_athlete(ours.athlete_id)
    assert people.list_athletes(ours.coach) == []
    assert desk.reviews.list_owners(mine) == []
    assert people.find_viewer(cookie, now=NOW) is None


def test_what_the_database_says_is_for_whoever_runs_it(
    desk: Desk, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        with pytest.raises(HistoryFailed, match="just now") as raised:
            desk.jobs._at.read(lambda session: session.execute(text("SELECT 1 FROM secret_place")))
        assert "secret_place" not in str(raised.value)
    assert capsys.readouterr().err.count("the history can't be reached: ") == 1  # not at each look


def test_a_plan_is_kept_copied_and_ticked(desk: Desk, ours: Team) -> None:
    entries = (Entry("jump", "vertical", sets=3, repetitions=2), Entry("rest", rest_s=90.0))
    desk.plans.save_day(PlannedDay(ours.team_id, MONDAY, "First", entries))
    (day,) = desk.plans.list_days([ours.team_id], first=MONDAY, last=MONDAY)
    assert [entry.text for entry in day.entries] == ["jump", "rest"]
    key = day.entries[0].entry_id
    desk.plans.tick(key, athlete_id=ours.athlete_id, is_done=True, now=NOW)
    desk.plans.tick(key, athlete_id=ours.athlete_id, is_done=True, now=NOW)
    desk.plans.save_day(day)  # lines that stay keep what was ticked off
    assert desk.plans.list_ticks([key]) == {(key, ours.athlete_id)}
    assert desk.plans.copy_week(ours.team_id, monday=MONDAY, more_sets=1) == 1
    assert desk.plans.copy_week(ours.team_id, monday=MONDAY, more_sets=1) == 0
    next_week = MONDAY + timedelta(days=7)
    (copied,) = desk.plans.list_days([ours.team_id], first=next_week, last=next_week)
    assert copied.entries[0].sets == 4
    desk.plans.save_day(PlannedDay(ours.team_id, MONDAY, "", ()))
    assert desk.plans.list_days([ours.team_id], first=MONDAY, last=MONDAY) == []
    assert desk.plans.list_ticks([key]) == set()


def test_each_clip_of_the_queue_is_taken_once(desk: Desk, ours: Team) -> None:
    wanted = {queue(desk, ours.athlete_id, content=str(number)) for number in range(8)}
    taken: list[int] = []

    def take() -> None:
        while (order := desk.jobs.claim_next(server="here", now=NOW)) is not None:
            taken.append(order.job_id)

    threads = [threading.Thread(target=take) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(taken) == sorted(wanted)


def test_a_clip_is_measured_refused_lost_and_sent_again(desk: Desk, ours: Team) -> None:
    jobs, job_id = desk.jobs, queue(desk, ours.athlete_id)
    lost = jobs.claim_next(server="gone", now=NOW)
    jobs.put_back_lost(before=NOW + timedelta(hours=1), now=NOW)
    order = jobs.claim_next(server="here", now=NOW)
    assert order.job_id == lost.job_id == job_id
    assert not jobs.tell_progress(lost, "poses", 0.5)
    assert jobs.finish(lost, a_report(a_jump()), now=NOW) is None
    assert jobs.tell_progress(order, "poses", 0.5)
    assert jobs.finish(order, a_report(refusals=(a_refusal(),)), now=NOW) is not None
    assert jobs.find(job_id).status == "refused"
    jobs.measure_again(job_id, exercise="turn_jump")
    again = jobs.claim_next(server="here", now=NOW)
    assert jobs.finish(again, a_report(a_jump(), exercise="turn_jump"), now=NOW) is not None
    assert jobs.find(job_id).status == "done"
    (clip,) = desk.reviews.list_clips([ours.athlete_id])
    assert clip.exercise == "turn_jump"
    assert clip.on_date == MONDAY


def test_events_moved_by_hand_and_words_about_clips(desk: Desk, ours: Team) -> None:
    queue(desk, ours.athlete_id)
    order = desk.jobs.claim_next(server="here", now=NOW)
    result_id = desk.jobs.finish(order, a_report(a_jump()), now=NOW)
    reviews = desk.reviews
    clip = reviews.find_by_result(result_id)
    move = EventMove("landing", 1, Instant(1.75, 0.004))
    moved = reviews.move_event(clip, move, why="later", by_name="Ada", now=NOW)
    assert moved.report["jumps"][0]["landing_s"] == 1.75
    assert moved.report["jumps"][0]["height_m"] > clip.report["jumps"][0]["height_m"]
    with pytest.raises(MovedMeanwhile):
        reviews.move_event(clip, move, why="again", by_name="Cleo", now=NOW)
    (noted,) = reviews.list_moves(clip.clip_id)
    back = reviews.undo_move(moved, noted.move_id, by_name="Ada", now=NOW)
    assert back.report["jumps"] == clip.report["jumps"]
    (numbers,) = desk.numbers.list_numbers([ours.athlete_id])
    assert numbers.jumps[0]["landing_s"] == clip.report["jumps"][0]["landing_s"]
    for is_accepted in (True, False):
        reviews.judge(clip.clip_id, jump_number=1, is_accepted=is_accepted, reason="arms",
                      by_name="Ada", now=NOW)  # fmt: skip
    (verdict,) = reviews.list_verdicts_of([ours.athlete_id]).values()
    assert not verdict.is_accepted
    reviews.write_note(clip.clip_id, text="Good.", by_name="Ada", now=NOW)
    assert [note.text for note in reviews.list_notes(clip.clip_id)] == ["Good."]
    place = reviews.save_place(ours.team_id, name="Yard", setup={"marks": [1]}, now=NOW)
    assert reviews.save_place(ours.team_id, name="yard", setup={"marks": [2]}, now=NOW) == place
    assert [each.setup for each in reviews.list_places([ours.team_id])] == [{"marks": [2]}]
