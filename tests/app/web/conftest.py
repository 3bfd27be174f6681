"""A server's whole inside over an empty folder: two teams, their coaches and athletes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.accounts.people import NewPerson, Viewer
from app.clip_files import drawing_folder
from app.history.clip_jobs import Upload
from app.web.asgi import make_app
from app.web.services import Services, open_services, use_services
from measure.report import Report, SprintReport
from tests.app.reports import a_jump, a_report

NOW = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
PASSWORD = "quite a long password"


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The whole application. Streamlit allows one in a process; what it serves changes by test."""
    with ExitStack() as open_things:
        with pytest.MonkeyPatch.context() as patched:  # it opens what the user has, and at once
            patched.setenv("FLIGHTMARK_DATA", str(tmp_path_factory.mktemp("server")))
            patched.delenv("FLIGHTMARK_DATABASE", raising=False)
            client = TestClient(make_app(measures=False), follow_redirects=False)
            open_things.enter_context(client)
        yield client


@pytest.fixture
def client(server: TestClient, at: Services) -> TestClient:
    server.cookies.clear()
    return server


@dataclass
class Team:
    """A coach and an athlete, with the cookies of both."""

    coach: Viewer
    coach_cookie: str
    athlete: Viewer
    athlete_cookie: str
    team_id: int

    @property
    def athlete_id(self) -> int:
        assert self.athlete.athlete_id is not None
        return self.athlete.athlete_id


@pytest.fixture
def at(data_folder: Path) -> Iterator[Services]:
    """Everything that a server has open, without its workers."""
    opened = open_services()
    use_services(opened)
    yield opened
    use_services(None)
    opened.desk.close()


def a_person(name: str, **changes: object) -> NewPerson:
    facts: dict[str, object] = {
        "sign_in_name": name.lower(), "password": PASSWORD, "born_on": date(2000, 1, 2),
        "stature_m": 1.72, "agrees": True,
    }  # fmt: skip
    return NewPerson(name, **{**facts, **changes})  # type: ignore[arg-type]


def make_team(at: Services, coach: str, athlete: str, *, first: bool) -> Team:
    """Make a team through the same doors that people use."""
    people, now = at.desk.people, datetime.now(UTC)
    if first:
        cookie = people.found_team(a_person(coach), team=f"Team of {coach}", now=now)
    else:
        founder = people.find_viewer(people.sign_in("ada", PASSWORD, address="here", now=now))
        assert founder is not None
        team_id = people.add_team(founder, f"Team of {coach}", now=now)
        founder = people.find_viewer(people.sign_in("ada", PASSWORD, address="here", now=now))
        assert founder is not None
        link = people.invite(founder, team_id=team_id, role="coach", athlete_id=None, now=now)
        cookie = people.join(link, a_person(coach), now=now)
        with at.desk.history._engine.begin() as connection:  # the founder keeps only the own team
            connection.exec_driver_sql(
                f"DELETE FROM team_coach WHERE team_id = {team_id} "
                f"AND account_id = {founder.account_id}"
            )
    viewer = people.find_viewer(cookie)
    assert viewer is not None
    team_id = viewer.team_ids[0]
    link = people.invite(viewer, team_id=team_id, role="athlete", athlete_id=None, now=now)
    athlete_cookie = people.join(link, a_person(athlete), now=now)
    athlete_viewer = people.find_viewer(athlete_cookie)
    assert athlete_viewer is not None
    return Team(viewer, cookie, athlete_viewer, athlete_cookie, team_id)


@pytest.fixture
def ours(at: Services) -> Team:
    return make_team(at, "Ada", "Bo", first=True)


@pytest.fixture
def theirs(at: Services, ours: Team) -> Team:
    return make_team(at, "Cleo", "Dag", first=False)


def keep_clip(
    at: Services, athlete_id: int, *, content: str = "clip", sprint: SprintReport | None = None,
    **jump: object,
) -> int:  # fmt: skip
    """Keep a measured clip with its files; give its number."""
    with drawing_folder() as folder:
        clip_path, picture = folder / "clip.mp4", folder / "jump1_landing.jpg"
        clip_path.write_bytes(content.encode())
        picture.write_bytes(b"picture")
        sha256 = at.files.keep_clip(clip_path)
        at.files.keep_annotated(sha256, clip_path)
        at.files.keep_stills(sha256, [picture])
    at.files.keep_frame_times(sha256, [k / 60 for k in range(180)])
    report: Report = a_report(a_jump(**jump), content=content)
    if sprint is not None:
        report = a_report(content=content, exercise="sprint", sprint=sprint)
    assert report.clip.sha256 == sha256
    upload = Upload(athlete_id, sha256, f"{content}.mp4", ".mp4", "vertical")
    job_id = at.desk.jobs.submit(upload, now=NOW)
    order = at.desk.jobs.claim_next(server="here:0", now=NOW)
    assert order is not None
    assert order.job_id == job_id
    result_id = at.desk.jobs.finish(order, report, now=NOW)
    assert result_id is not None
    clip = at.desk.reviews.find_by_result(result_id)
    assert clip is not None
    return clip.clip_id
