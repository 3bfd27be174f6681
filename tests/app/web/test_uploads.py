"""Clips in slices: broken off, gone on with, twice, too large, of the wrong kind, not one's own."""

from __future__ import annotations

import hashlib
import shutil
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.errors import HistoryFailed
from app.jobs import clip_work
from app.web import uploads
from app.web.services import COOKIE, Services
from tests.app.web.conftest import Team

ORIGIN = {"Origin": "http://testserver"}
CLIP = bytes(range(256)) * 4096


@pytest.fixture
def client(client: TestClient, ours: Team) -> TestClient:
    client.cookies.set(COOKIE, ours.athlete_cookie)
    return client


def begin(client: TestClient, **changes: Any) -> Any:
    said = {"file_name": "hop.MP4", "size": len(CLIP), "exercise": "vertical", **changes}
    return client.post("/uploads", json=said, headers=ORIGIN)


def send(client: TestClient, name: str, start: int, data: bytes) -> Any:
    headers = {**ORIGIN, "Upload-Offset": str(start)}
    return client.patch(f"/uploads/{name}", content=data, headers=headers)


def test_a_broken_upload_goes_on_where_it_stopped(
    client: TestClient, at: Services, ours: Team
) -> None:
    name = begin(client).json()["name"]
    assert send(client, name, 0, CLIP[:300_000]).status_code == 204
    assert send(client, name, 0, CLIP[:300_000]).status_code == 409  # sent again after a break
    have = int(client.head(f"/uploads/{name}").headers["upload-offset"])
    assert have == 300_000
    done = send(client, name, have, CLIP[have:])
    job = at.desk.jobs.find(done.json()["job"])
    assert job is not None
    assert (job.status, job.exercise, job.athlete_id) == ("waiting", "vertical", ours.athlete_id)
    assert job.clip_sha256 == hashlib.sha256(CLIP).hexdigest()
    kept = at.files.find_clip(job.clip_sha256)
    assert kept is not None
    assert kept.read() == CLIP
    assert list(at.uploads_folder.iterdir()) == []


def test_the_same_clip_twice_is_one_clip(client: TestClient, at: Services, ours: Team) -> None:
    jobs = set()
    for file_name in ("one.mp4", "two.mov"):
        name = begin(client, file_name=file_name).json()["name"]
        jobs.add(send(client, name, 0, CLIP).json()["job"])
    assert len(jobs) == 1
    assert len(at.desk.jobs.list_for(ours.athlete_id)) == 1


@pytest.mark.parametrize(
    ("changes", "status", "said"),
    [
        ({"file_name": "notes.txt"}, 415, "no video"),
        ({"file_name": "clip"}, 415, "no video"),
        ({"size": 4 << 30}, 413, "larger than 2 GB"),
        ({"size": 0}, 400, "empty"),
        ({"size": "many"}, 400, "empty"),
        ({"exercise": "flying"}, 400, "exercise"),
        ({"start_foot": "third"}, 400, "left or right"),
    ],
)
def test_what_can_be_no_clip_is_refused_at_once(
    client: TestClient, changes: dict[str, Any], status: int, said: str
) -> None:
    answer = begin(client, **changes)
    assert answer.status_code == status
    assert said in answer.text


def test_the_foot_in_front_goes_with_a_run(
    client: TestClient, at: Services, tmp_path: Path
) -> None:
    name = begin(client, exercise="sprint", start_foot="left").json()["name"]
    send(client, name, 0, CLIP)
    order = at.desk.jobs.claim_next(server="here:1", now=datetime.now(UTC))
    assert order is not None
    request = clip_work.request_of(order, tmp_path / "run.mp4", tmp_path)
    assert (request.exercise, request.start_foot) == ("sprint", "left")


def test_more_than_was_said_is_refused(client: TestClient) -> None:
    name = begin(client, size=100).json()["name"]
    assert send(client, name, 0, CLIP).status_code == 413


def test_nobody_sends_for_another_or_into_anothers_upload(
    client: TestClient, ours: Team, theirs: Team
) -> None:
    assert begin(client, athlete=theirs.athlete_id).status_code == 404
    name = begin(client).json()["name"]
    client.cookies.set(COOKIE, theirs.athlete_cookie)
    assert client.head(f"/uploads/{name}").status_code == 404
    assert send(client, name, 0, CLIP).status_code == 404
    assert client.head("/uploads/..%2Fhistory.sqlite").status_code in (400, 404)


def test_an_ended_session_ends_an_upload_and_another_goes_on(
    client: TestClient, at: Services, ours: Team
) -> None:
    from datetime import UTC, datetime

    from tests.app.web.conftest import PASSWORD

    name = begin(client).json()["name"]
    send(client, name, 0, CLIP[:1000])
    at.desk.people.sign_out(ours.athlete_cookie)
    assert send(client, name, 1000, CLIP[1000:]).status_code == 401
    cookie = at.desk.people.sign_in("bo", PASSWORD, address="x", now=datetime.now(UTC))
    client.cookies.set(COOKIE, str(cookie))
    assert send(client, name, 1000, CLIP[1000:]).status_code == 200


def test_a_full_disk_is_said_and_nothing_is_lost(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(10, 10, 0))
    answer = begin(client)
    assert answer.status_code == 507
    assert "no room" in answer.text


def test_a_database_that_is_away_keeps_the_upload(
    client: TestClient, at: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = begin(client).json()["name"]
    with monkeypatch.context() as broken:

        def away(*_upload: object, **_more: object) -> int:
            raise HistoryFailed("The database is away.", "Try again.")

        broken.setattr(at.desk.jobs, "submit", away)
        assert send(client, name, 0, CLIP).status_code == 503
        broken.setattr(at.desk.people, "may_see", away)
        assert begin(client).status_code == 503  # the page asks again
    have = int(client.head(f"/uploads/{name}").headers["upload-offset"])
    assert have == len(CLIP)
    with monkeypatch.context() as broken:
        broken.setattr(at.desk.people, "has_accounts", away)
        answer = client.get("/enter")
        assert (answer.status_code, "Try again" in answer.text) == (503, True)
    assert send(client, name, have, b"").status_code == 200


def test_a_large_upload_stays_out_of_memory(client: TestClient) -> None:
    import tracemalloc

    size = 64 << 20
    name = begin(client, size=size).json()["name"]
    slice_ = bytes(8 << 20)
    tracemalloc.start()
    for start in range(0, size, len(slice_)):
        assert send(client, name, start, slice_).status_code in (200, 204)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 40 << 20


def test_what_lay_half_sent_for_days_is_forgotten(
    client: TestClient, at: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = begin(client).json()["name"]
    monkeypatch.setattr(uploads, "ABANDONED_AFTER_S", -1.0)
    begin(client)
    assert client.head(f"/uploads/{name}").status_code == 404
