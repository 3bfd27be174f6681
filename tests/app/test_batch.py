"""Many clips at once: what ends how, what is passed over, and that nothing differs from one."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from app.commands.batch_items import WrongManifest, list_folder, read_manifest
from app.errors import HistoryFailed, JobsFailed
from app.folders import sqlite_url
from app.history import History, Measured, open_history
from app.jobs import cluster
from app.jobs.batch import Batch, BatchItem, Ended
from app.jobs.cluster import Workers, open_workers
from app.jobs.tasks import ClipTask, measure_task
from app.requests import hash_request, request_as_json, request_from_json
from app.store import FileStore, open_store, read_track
from measure.report import as_json
from measure.request import ClipRequest, Reference
from tests.app import fake_measuring
from tests.app.conftest import Run
from tests.app.fake_measuring import MEASURING


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    with open_workers(count=2) as opened:
        yield opened


@pytest.fixture
def history(url: str) -> Iterator[History]:
    with open_history(url) as opened:
        yield opened


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return open_store(str(tmp_path / "store"))


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    """A folder with a folder for each of two athletes."""
    folder = tmp_path / "clips"
    texts = {
        "Ada Brandt": ["one", "two", "unreadable", "still"],
        "Mika Orlov": ["three", "nobody", "fault", "three"],
    }
    for athlete, some in texts.items():
        (folder / athlete).mkdir(parents=True)
        for number, text in enumerate(some):
            (folder / athlete / f"{number} {text}.mp4").write_text(f"{athlete} {text}")
    (folder / "Ada Brandt" / "notes.txt").write_text("no film")
    return folder


def ends(ended: list[Ended]) -> Counter[str]:
    return Counter(each.end for each in ended)


def run_folder(folder: Path, batch: Batch, workers: Workers) -> list[Ended]:
    items = list_folder(folder, athlete=None, on_date=date(2026, 3, 2), exercise=None)
    return list(batch.run(items, workers))


def test_each_clip_ends_as_it_deserves_and_is_not_tried_twice(
    clips: Path, history: History, store: FileStore, workers: Workers
) -> None:
    batch = Batch(history, MEASURING, store)
    first = run_folder(clips, batch, workers)
    assert ends(first) == Counter(
        measured=3, unreadable=1, no_number=2, fault=1, present=1
    )  # fmt: skip
    assert [each.said for each in first if each.end == "unreadable"] == [
        "That is no film. Send the phone's own file."
    ]
    assert len(history.list_results("Ada Brandt")) == 2
    (result,) = history.list_results("Mika Orlov")
    assert result.on_date == date(2026, 3, 2)
    assert result.request == {}
    assert store.has(result.clip_sha256)
    assert result.track_sha256 is not None
    assert read_track(store.read_bytes(result.track_sha256)).width_px == 1280
    # A fault may be gone the next time; all else is settled.
    second = run_folder(clips, batch, workers)
    assert ends(second) == Counter(present=4, settled=3, fault=1)
    assert {each.said for each in second if each.end == "settled"} == {
        each.said for each in first if each.end in ("unreadable", "no_number")
    }
    assert len(history.list_results("Ada Brandt", superseded=True)) == 2


def test_a_batch_gives_what_single_runs_give(
    clips: Path, history: History, store: FileStore, workers: Workers
) -> None:
    run_folder(clips, Batch(history, MEASURING, store), workers)
    for result in history.list_results("Ada Brandt"):
        path = next(clips.rglob(result.clip_name))
        single = fake_measuring.analyse(ClipRequest(path), progress=lambda *_: None)
        assert result.report == as_json(single.report)


def test_another_question_is_asked_anew_and_the_kept_stature_counts(
    clips: Path, history: History, store: FileStore, workers: Workers
) -> None:
    path = clips / "Ada Brandt" / "0 one.mp4"
    batch = Batch(history, MEASURING, store)

    def measure(**said: object) -> list[str]:
        return [
            each.end
            for each in batch.run([BatchItem("Ada Brandt", ClipRequest(path, **said))], workers)
        ]

    assert measure() == ["measured"]
    assert measure(stature_m=1.7) == ["measured"]
    assert measure() == ["present"]
    assert measure(exercise="turn_jump") == ["measured"]
    (current,) = history.list_results("Ada Brandt")
    assert current.request == {"exercise": "turn_jump", "stature_m": 1.7}
    assert len(history.list_results("Ada Brandt", superseded=True)) == 3
    assert measure(stature_m=1.7) == ["measured"]  # the last word counts


def test_clips_can_be_left_where_they_lie(
    clips: Path, history: History, store: FileStore, workers: Workers
) -> None:
    run_folder(clips, Batch(history, MEASURING, None), workers)
    assert store.list_names() == []
    assert len(history.list_results("Ada Brandt")) == 2


def test_workers_have_one_thread_for_each_library(workers: Workers) -> None:
    assert list(workers._client.run(count_threads).values()) == [1, 1]


def count_threads() -> int:
    import cv2

    return int(cv2.getNumThreads())


def test_workers_that_differ_are_refused(workers: Workers) -> None:
    with pytest.raises(JobsFailed, match="2 different versions"):
        workers.versions(own_version)


def own_version() -> object:
    import os

    return os.getpid()


def test_a_clip_that_kills_its_workers_does_not_stop_the_rest(
    tmp_path: Path, history: History, store: FileStore
) -> None:
    for text in ("deadly", "one", "two", "three"):
        (tmp_path / f"{text}.mp4").write_text(text)
    items = list_folder(tmp_path, athlete="Ada Brandt", on_date=None, exercise=None)
    with open_workers(count=1) as own:
        ended = list(Batch(history, MEASURING, store).run(items, own))
    assert ends(ended) == Counter(measured=3, fault=1)
    assert "ends the worker" in next(each.said for each in ended if each.end == "fault")


def test_a_database_that_is_gone_for_a_moment_is_waited_for(
    clips: Path, history: History, store: FileStore, workers: Workers,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    save, fails = history.save_results, iter([True, True])

    def save_at_last(items: object) -> object:
        if next(fails, False):
            raise HistoryFailed("It is gone.", "Start it.")
        return save(items)

    monkeypatch.setattr(history, "save_results", save_at_last)
    batch = Batch(history, MEASURING, store, save_waits_s=(0.0, 0.0, 0.0))
    assert ends(run_folder(clips, batch, workers))["measured"] == 3
    monkeypatch.setattr(history, "save_results", fail)
    (clips / "Ada Brandt" / "new.mp4").write_text("new")
    with pytest.raises(HistoryFailed, match="gone"):
        run_folder(clips, batch, workers)


def fail(_items: object) -> None:
    raise HistoryFailed("It is gone.", "Start it.")


def test_a_clip_that_changes_meanwhile_is_not_kept_under_its_old_name(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    path.write_text("new")
    outcome = measure_task(ClipTask("clip.mp4", "0" * 64, {}, path=path), fake_measuring.analyse)
    assert "changed" in str(outcome.fault)


def test_nobody_at_the_address_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT_WITHIN_S", 1)
    for address in ("tcp://127.0.0.1:1", "nonsense"):
        with pytest.raises(JobsFailed, match="can't be reached"), open_workers(address):
            pass


def test_a_cluster_without_workers_is_not_waited_for_in_silence(
    clips: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "WITHOUT_WORKERS_S", 1.0)
    task = ClipTask("one.mp4", "0" * 64, {}, path=clips / "Ada Brandt" / "0 one.mp4")
    with open_workers(count=1) as own:
        own._client.cluster.scale(0)
        with pytest.raises(JobsFailed, match="No worker"):
            list(own.run(iter([("one", task)]), analyse=fake_measuring.analyse))


def test_what_fails_beside_the_workers_is_not_blamed_on_them() -> None:
    with pytest.raises(OSError, match="full"), open_workers(count=1):
        raise OSError("the disk is full")


def test_a_request_goes_to_plain_values_and_back(tmp_path: Path) -> None:
    lane = tmp_path / "a.json"
    lane.write_text('{"marks": [1]}')
    request = ClipRequest(
        tmp_path / "clip.mp4", exercise="sprint", stature_m=1.7,
        reference=Reference((1.0, 2.0), (3.0, 4.0), 1.5), lane=lane,
    )  # fmt: skip
    plain = request_as_json(request)
    assert json.loads(json.dumps(plain)) == plain
    folder = tmp_path / "worker"
    folder.mkdir()
    back = request_from_json(plain, path=request.path, folder=folder)
    assert back.reference == request.reference
    assert back.lane is not None
    assert json.loads(back.lane.read_text()) == {"marks": [1]}
    assert hash_request(request_as_json(back)) == hash_request(plain)
    assert hash_request(request_as_json(ClipRequest(request.path))) != hash_request(plain)


def test_reanalysis_keeps_the_old_and_tells_what_changed(
    clips: Path, data_folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    (clips / "Mika Orlov" / "2 fault.mp4").unlink()
    run_with_fake(run, "batch", str(clips), "--workers", "1")
    outcome = run_with_fake(run, "reanalyse", "--workers", "1")
    assert (outcome.code, outcome.out) == (0, "3 results: 3 up to date already.\n")
    # Another version that measures two clips otherwise, and can't measure the third any more.
    monkeypatch.setenv("FAKE_VERSION", "0.2.0")
    monkeypatch.setenv("FAKE_CHANGES", "1")
    outcome = run_with_fake(run, "reanalyse", "--workers", "1")
    assert outcome.code == 0
    assert "jump 1 height: " in outcome.out
    assert "3 results: 2 measured again, 1 kept as they are" in outcome.out
    assert "2 beyond it. The old results are kept." in outcome.out
    with open_history(sqlite_url(data_folder)) as history:
        assert len(history.list_results("Ada Brandt", superseded=True)) == 4
        assert {r.flightmark_version for r in history.list_results("Ada Brandt")} == {"0.2.0"}
        assert {r.flightmark_version for r in history.list_results("Mika Orlov")} == {"0.1.0"}
    outcome = run_with_fake(run, "reanalyse", "--workers", "1")
    assert outcome.out == "3 results: 3 up to date already.\n"


def test_reanalysis_finds_clips_that_were_left_where_they_lie(
    clips: Path, data_folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_with_fake(run, "batch", str(clips), "--leave-clips", "--workers", "1")
    monkeypatch.setenv("FAKE_VERSION", "0.2.0")
    outcome = run_with_fake(run, "reanalyse", "--athlete", "Ada Brandt", "--workers", "1")
    assert "2 results: 2 without their clip" in outcome.out
    outcome = run_with_fake(
        run, "reanalyse", "--athlete", "Ada Brandt", "--clips", str(clips), "--workers", "1"
    )
    assert "2 have the same numbers" in outcome.out


def test_measuring_again_does_not_undo_what_was_moved_by_hand(
    clips: Path, url: str, store: FileStore, workers: Workers
) -> None:
    with open_history(url) as history:
        batch = Batch(history, MEASURING, store)
        run_folder(clips, batch, workers)
        first, _ = history.list_results("Ada Brandt")
        with history._writer.begin() as connection:  # as the pages do it
            connection.exec_driver_sql(
                "INSERT INTO result (clip_id, flightmark_version, pose_model, settings_sha256,"
                " exercise, report, created_at) SELECT clip_id, flightmark_version, pose_model,"
                " settings_sha256, exercise, '{}', created_at FROM result"
                f" WHERE id = {first.result_id}"
            )
            connection.exec_driver_sql(
                "INSERT INTO revision (result_id, base_result_id) SELECT max(id), "
                f"{first.result_id} FROM result"
            )
        assert ends(run_folder(clips, batch, workers))["present"] == 4
        assert history.list_revised()
        again = Measured(first.report, "Ada Brandt", first.on_date, "a.mp4", first.created_at)
        assert history.save_results([again]) == list(history.list_revised())


MANIFEST = """\
file,athlete,exercise,stature_m,date
Ada Brandt/0 one.mp4,Ada Brandt,vertical,1.70,2026-03-02
Mika Orlov/0 three.mp4,Mika Orlov,,,
"""


def test_a_manifest_says_all_about_each_clip(clips: Path) -> None:
    path = clips / "list.csv"
    path.write_text(MANIFEST)
    first, second = read_manifest(path)
    assert first.request == ClipRequest(
        clips / "Ada Brandt" / "0 one.mp4", exercise="vertical", stature_m=1.7
    )
    assert first.on_date == date(2026, 3, 2)
    assert second == BatchItem("Mika Orlov", ClipRequest(clips / "Mika Orlov" / "0 three.mp4"))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("file,athlete\n", "no lines"),
        ("file\na.mp4\n", "no column athlete"),
        ("file,athlete,height\na.mp4,A,1\n", "unknown height"),
        (
            "file,athlete,stature_m\na.mp4,A,170\n,A,\nb.mp4,A\n",
            "(?s)line 2: stature_m.*line 3: file.*line 4",
        ),
        ("file,athlete,exercise,date\na,A,hop,\nb,A,,March\n", "(?s)hop.*line 3: date"),
    ],
)  # fmt: skip
def test_every_fault_of_a_manifest_is_told(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(text)
    with pytest.raises(WrongManifest, match=told):
        read_manifest(path)


def test_the_command_tells_each_end_and_goes_on_when_called_again(
    clips: Path, run: Run, data_folder: Path
) -> None:
    from app.main import main

    (clips / "Mika Orlov" / "2 fault.mp4").unlink()
    code = main(["batch", str(clips), "--workers", "2"], measuring=MEASURING)
    assert code == 3
    outcome = run_with_fake(run, "batch", str(clips), "--workers", "1")
    assert outcome.code == 1
    assert "7 clips: 4 in the history already, 3 without a number, as found before." in outcome.out
    with open_history(sqlite_url(data_folder)) as history:
        assert len(history.list_results("Ada Brandt", superseded=True)) == 2


def run_with_fake(run: Run, *argv: str) -> object:
    class Fake:
        measuring = MEASURING

    return run(*argv, stand_in=Fake())


def test_a_batch_that_cannot_be_meant_is_a_wrong_call(clips: Path, run: Run) -> None:
    (clips / "whose.mp4").write_text("?")
    outcome = run("batch", str(clips))
    assert outcome.code == 2
    assert "Whose are whose.mp4?" in outcome.err
    assert run("batch", str(clips / "missing.csv")).code == 2
    (clips / "list.csv").write_text(MANIFEST)
    assert run("batch", str(clips / "list.csv"), "--athlete", "Ada").code == 2
    assert run("batch", str(clips), "--workers", "0").code == 2
