"""Another team's things asked for by their address: pages, files, uploads, websocket."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from app.clip_files import ClipFiles
from app.store import open_store
from app.web.services import COOKIE, Services
from tests.app.web.conftest import PASSWORD, Team, a_person, keep_clip

ORIGIN = {"Origin": "http://testserver"}


def as_(client: TestClient, cookie: str | None) -> TestClient:
    client.cookies.clear()
    if cookie:
        client.cookies.set(COOKIE, cookie)
    return client


def addresses(at: Services, team: Team) -> list[str]:
    """Every file address of a team's athlete."""
    clip_id = keep_clip(at, team.athlete_id, content=team.coach.name)
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    job_id = at.desk.jobs.list_for(team.athlete_id)[0].job_id
    base = f"/files/{clip.clip_sha256}"
    return [
        f"{base}/clip", f"{base}/annotated.mp4", f"{base}/frames.json",
        f"{base}/stills/jump1_landing.jpg", f"/jobs/{job_id}",
        f"/sheets/athlete/{team.athlete_id}.pdf",
    ]  # fmt: skip


def team_addresses(team: Team) -> list[str]:
    return [f"/sheets/team/{team.team_id}.csv", f"/sheets/team/{team.team_id}.pdf"]


def test_own_files_are_sent_and_others_are_not_there(
    client: TestClient, at: Services, ours: Team, theirs: Team
) -> None:
    mine, others = addresses(at, ours), addresses(at, theirs)
    for cookie in (ours.coach_cookie, ours.athlete_cookie):
        as_(client, cookie)
        assert {client.get(address).status_code for address in mine} == {200}
        assert {client.get(address).status_code for address in others} == {404}
    as_(client, None)
    assert {client.get(address).status_code for address in mine} == {401}


def test_team_sheets_are_for_the_teams_coach_only(
    client: TestClient, at: Services, ours: Team, theirs: Team
) -> None:
    keep_clip(at, ours.athlete_id)
    as_(client, ours.coach_cookie)
    assert {client.get(a).status_code for a in team_addresses(ours)} == {200}
    for cookie in (theirs.coach_cookie, ours.athlete_cookie):
        as_(client, cookie)
        assert {client.get(a).status_code for a in team_addresses(ours)} == {404}


def test_a_picture_is_no_way_to_other_files(
    client: TestClient, at: Services, ours: Team
) -> None:
    base = addresses(at, ours)[0].removesuffix("/clip")
    as_(client, ours.coach_cookie)
    for name in ("..%2Fclip.mp4", "%2e%2e/clip.mp4", "jump1_landing.jpg%00", "nothing.jpg"):
        assert client.get(f"{base}/stills/{name}").status_code in (400, 404)
    assert "root:" not in client.get("/files/..%2F..%2Fetc/passwd").text


def test_a_film_is_sent_by_the_range_too(client: TestClient, at: Services, ours: Team) -> None:
    address = addresses(at, ours)[0]
    kept = at.files
    for files in (kept, _copied_to_memory(kept, address.split("/")[2])):
        at.files = files
        as_(client, ours.coach_cookie)
        for asked, sent in (("1-2", b"da"), ("1-", b"da"), ("-2", b"da"), ("0-99", b"Ada")):
            answer = client.get(address, headers={"Range": f"bytes={asked}"})
            assert (answer.status_code, answer.content) == (206, sent)
            assert answer.headers["content-range"].endswith("/3")
        assert client.get(address, headers={"Range": "bytes=3-"}).status_code == 416
        assert client.get(address).content == b"Ada"


def _copied_to_memory(files: ClipFiles, sha256: str) -> ClipFiles:
    """The same clip in a store that is no folder of this machine."""
    other = ClipFiles(open_store("memory://club"))
    with files.local_clip(sha256) as path:
        other.keep_clip(path)
    return other


def test_pages_and_websocket_need_a_session(client: TestClient, at: Services, ours: Team) -> None:
    as_(client, None)
    page = client.get("/review?id=1", headers={"accept": "text/html"})
    assert (page.status_code, page.headers["location"]) == (303, "/enter")
    assert client.get("/_stcore/host-config").status_code == 401
    assert client.get("/media/anything.mp4").status_code == 401
    with pytest.raises(WebSocketDisconnect) as shut:  # noqa: SIM117
        with client.websocket_connect("/_stcore/stream", headers=ORIGIN):
            pass
    assert shut.value.code == 4401


def test_a_websocket_from_another_site_is_shut(
    client: TestClient, at: Services, ours: Team
) -> None:
    as_(client, ours.coach_cookie)
    for origin in ({"Origin": "http://elsewhere.example"}, {}):
        with pytest.raises(WebSocketDisconnect):  # noqa: SIM117
            with client.websocket_connect("/_stcore/stream", headers=origin):
                pass


def test_nothing_is_changed_from_another_site(client: TestClient, at: Services, ours: Team) -> None:
    as_(client, ours.coach_cookie)
    for headers in ({"Origin": "http://elsewhere.example"}, {"Origin": "null"}, {}):
        assert client.post("/leave", headers=headers).status_code == 403
        assert client.post("/uploads", json={}, headers=headers).status_code == 403
    assert at.desk.people.find_viewer(ours.coach_cookie) is not None


def test_sign_out_everywhere_ends_every_browser(
    client: TestClient, at: Services, ours: Team
) -> None:
    other = at.desk.people.sign_in("ada", PASSWORD, address="phone", now=_now())
    as_(client, ours.coach_cookie).post("/leave", data={"everywhere": "yes"}, headers=ORIGIN)
    assert at.desk.people.find_viewer(other) is None
    assert client.get("/_stcore/health", headers={"accept": "*/*"}).status_code == 401


def test_guessing_is_slowed_down(client: TestClient, at: Services, ours: Team) -> None:
    as_(client, None)
    guess = {"sign_in_name": "ADA", "password": "not it at all"}
    codes = [client.post("/enter", data=guess, headers=ORIGIN).status_code for _ in range(10)]
    assert codes == [401] * 8 + [429] * 2
    right = client.post("/enter", data={**guess, "password": PASSWORD}, headers=ORIGIN)
    assert right.status_code == 429  # even the right one waits now


def test_the_cookie_is_kept_from_scripts(client: TestClient, at: Services, ours: Team) -> None:
    as_(client, None)
    said = {"sign_in_name": "ada", "password": PASSWORD}
    cookie = client.post("/enter", data=said, headers=ORIGIN).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    with at.desk.history._engine.connect() as connection:
        rows = connection.exec_driver_sql("SELECT token_sha256 FROM sign_in").scalars().all()
    assert all(row not in cookie for row in rows)


def test_the_first_coach_is_made_once(client: TestClient, at: Services) -> None:
    said = {"name": "Ada", "team": "One", "sign_in_name": "ada", "password": PASSWORD,
            "again": PASSWORD}  # fmt: skip
    assert client.get("/enter").headers["location"] == "/first"
    assert client.post("/first", data=said, headers=ORIGIN).status_code == 303
    as_(client, None)
    assert client.post("/first", data=said, headers=ORIGIN).headers["location"] == "/enter"


def test_a_link_works_once_and_a_minor_needs_a_guardian(
    client: TestClient, at: Services, ours: Team
) -> None:
    link = at.desk.people.invite(
        ours.coach, team_id=ours.team_id, role="athlete", athlete_id=None, now=_now()
    )
    said = {"name": "<b>Eli</b>", "sign_in_name": "eli", "password": PASSWORD, "again": PASSWORD,
            "born_on": f"{_now().year - 15}-01-01", "agrees": "yes"}  # fmt: skip
    as_(client, None)
    refused = client.post(f"/join/{link}", data=said, headers=ORIGIN)
    assert refused.status_code == 422
    assert "guardian" in refused.text
    assert "<b>Eli</b>" not in refused.text  # shown, never run
    said |= {"guardian": "Fay", "stature_cm": "172,5", "mass_kg": "61.5"}
    for wrong in ({"mass_kg": "6"}, {"mass_kg": "much"}, {"stature_cm": "1.72"}):
        refused = client.post(f"/join/{link}", data={**said, **wrong}, headers=ORIGIN)
        assert refused.status_code == 422
        assert "is a number from" in refused.text
    joined = client.post(f"/join/{link}", data=said, headers=ORIGIN)
    assert joined.status_code == 303
    faces = at.desk.people.list_athletes(ours.coach)
    athlete = next(face for face in faces if "Eli" in face.name)
    givers = [
        (each.given_by, each.is_guardian)
        for face in faces
        for each in at.desk.people.list_consents(face.athlete_id)
    ]
    assert ("Fay", True) in givers
    assert (athlete.stature_m, athlete.mass_kg) == (1.725, 61.5)
    as_(client, None)
    assert client.get(f"/join/{link}").status_code == 410


def test_a_coach_invites_only_into_the_own_team(at: Services, ours: Team, theirs: Team) -> None:
    with pytest.raises(PermissionError):
        at.desk.people.invite(
            ours.coach, team_id=theirs.team_id, role="coach", athlete_id=None, now=_now()
        )
    with pytest.raises(PermissionError):
        at.desk.people.add_athlete(
            ours.athlete, team_id=ours.team_id, name="Gus", stature_m=None, now=_now()
        )


def test_without_agreement_nobody_joins(at: Services, ours: Team) -> None:
    link = at.desk.people.invite(
        ours.coach, team_id=ours.team_id, role="athlete", athlete_id=None, now=_now()
    )
    with pytest.raises(ValueError, match="agree"):
        at.desk.people.join(link, a_person("Hal", agrees=False), now=_now())
    assert at.desk.people.find_invitation(link, now=_now()) is not None


def _now() -> datetime:
    return datetime.now(UTC)
