"""Clips and tracks by content, in a folder and in an object store."""

from __future__ import annotations

import hashlib
import importlib.util
import io
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import fsspec
import numpy as np
import pytest

from app.errors import StoreFailed
from app.store import FileStore, open_store, read_track, track_as_bytes
from app.store.files import hash_file
from measure.types import Landmark, PoseTrack

CONTENT = b"a film" * 100_000
NAME = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture(params=["folder", "memory"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FileStore]:
    if request.param == "folder":
        yield open_store(str(tmp_path / "store"))
        return
    yield open_store("memory://team")
    memory = fsspec.filesystem("memory")
    memory.store.clear()
    memory.pseudo_dirs[:] = [""]


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    path = tmp_path / "clip.mp4"
    path.write_bytes(CONTENT)
    return path


def everything(store: FileStore) -> list[str]:
    return [path for path in store._system.find(store._root) if store._system.isfile(path)]


def test_a_kept_clip_is_there_by_its_content(store: FileStore, clip: Path) -> None:
    assert not store.has(NAME)
    assert store.list_names() == []
    assert store.keep_file(clip) == NAME == hash_file(clip)
    assert store.has(NAME)
    assert not store.has(NAME, kind="tracks")
    assert store.list_names() == [NAME]
    with store.local_path(NAME) as path:
        assert path.read_bytes() == CONTENT
    assert store.keep_bytes(CONTENT, kind="clips") == NAME
    assert len(everything(store)) == 1
    store.remove(NAME)
    store.remove(NAME)
    assert everything(store) == []
    with pytest.raises(StoreFailed), store.local_path(NAME):
        pass


def test_another_process_opens_the_same_store_by_its_address(tmp_path: Path, clip: Path) -> None:
    first = open_store(str(tmp_path / "store"))
    first.keep_file(clip)
    assert open_store(first.address).has(NAME)
    assert (tmp_path / "store").stat().st_mode & 0o777 == 0o700


def test_the_environment_names_the_store(
    data_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert open_store().address == str(data_folder / "store")
    monkeypatch.setenv("FLIGHTMARK_STORE", "memory://club")
    assert open_store().address == "memory://club"


class Breaking:
    """A source that ends with a fault half-way."""

    def __init__(self) -> None:
        self.slices = [b"half", OSError("the card is gone")]

    def read(self, _size: int) -> bytes:
        some = self.slices.pop(0)
        if isinstance(some, OSError):
            raise some
        return some


def test_a_write_that_breaks_leaves_nothing(store: FileStore) -> None:
    with pytest.raises(OSError, match="card"):
        store._keep(Breaking(), "clips")
    assert everything(store) == []


def test_a_writer_killed_half_way_leaves_no_half_file_under_a_name(tmp_path: Path) -> None:
    script = (
        "import sys, time\n"
        "from app.store import open_store\n"
        "class Slow:\n"
        "    def read(self, size):\n"
        "        print('slice', flush=True); time.sleep(0.05); return b'x' * 100_000\n"
        "open_store(sys.argv[1])._keep(Slow(), 'clips')\n"
    )
    writer = subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path / "store")], stdout=subprocess.PIPE
    )
    assert writer.stdout is not None
    for _ in range(3):
        writer.stdout.readline()
    writer.send_signal(signal.SIGKILL)
    writer.wait()
    writer.stdout.close()
    store = open_store(str(tmp_path / "store"))
    assert store.list_names() == []
    assert len(everything(store)) == 1
    now = datetime.now(UTC)
    assert store.sweep(before=now - timedelta(days=1)) == 0
    assert store.sweep(before=now + timedelta(days=1)) == 1
    assert everything(store) == []


def test_a_spoilt_object_is_noticed(clip: Path) -> None:
    store = open_store("memory://spoilt")
    store.keep_file(clip)
    store._system.pipe_file(store._place(NAME, "clips"), b"other")
    with pytest.raises(StoreFailed, match="another content"), store.local_path(NAME):
        pass
    store.remove(NAME)


def test_a_name_never_leads_out_of_the_store(store: FileStore) -> None:
    for name in ("../../secret", "", "A" * 64):
        with pytest.raises(ValueError, match="64 hexadecimal"):
            store.has(name)


@pytest.mark.parametrize("address", ["nosuch://bucket", "s3://bucket/team"])
def test_a_store_that_cannot_be_opened_says_why(address: str) -> None:
    if address.startswith("s3") and _has_s3fs():
        pytest.skip("the package for it is installed")
    with pytest.raises(StoreFailed, match="FLIGHTMARK_STORE"):
        open_store(address)


def _has_s3fs() -> bool:
    return importlib.util.find_spec("s3fs") is not None


def test_a_place_that_may_not_be_written_is_said(tmp_path: Path, clip: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreFailed, match="could not be kept"):
        open_store(str(tmp_path / "file" / "store")).keep_file(clip)
    with pytest.raises(StoreFailed, match="could not be kept"):
        open_store(str(tmp_path / "store")).keep_file(tmp_path / "missing.mp4")


def a_track(rows: int = 5) -> PoseTrack:
    rng = np.random.default_rng(1)
    points = len(Landmark)
    px = rng.normal(size=(rows, points, 2))
    px[0, 0] = np.nan
    return PoseTrack(
        np.arange(rows), np.arange(rows) / 60, px, rng.random((rows, points)),
        rng.normal(size=(rows, points, 3)), 1280, 720,
    )  # fmt: skip


def test_a_track_comes_back_as_it_was(store: FileStore) -> None:
    track = a_track()
    name = store.keep_bytes(track_as_bytes(track))
    assert store.keep_bytes(track_as_bytes(track)) == name
    back = read_track(store.read_bytes(name))
    for field in ("frame_index", "file_time_s", "px", "visibility", "world_m"):
        np.testing.assert_array_equal(getattr(back, field), getattr(track, field))
    assert (back.width_px, back.height_px) == (1280, 720)
    other = io.BytesIO()
    np.savez(other, px=np.ones(1))
    with pytest.raises(ValueError, match="expected a body track"):
        read_track(other.getvalue())
