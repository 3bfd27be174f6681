"""Files that cannot be measured, through the real command: one clear line, nothing kept."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from app.history import open_history
from app.main import main
from tests.app.bad_clips import BUILDERS, sample

ROOT = Path(__file__).resolve().parents[2]
CALL = "import sys; from app.main import main; sys.exit(main(sys.argv[1:]))"
LONGEST_WAIT_S = 120.0

Measure = Callable[..., tuple[int, str, str]]


@pytest.fixture
def measure(
    data_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> Measure:  # fmt: skip
    """Measure one clip for an athlete's history, in a folder that is empty but for the clip."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)

    def call(*argv: str) -> tuple[int, str, str]:
        code = main(["measure", *argv, "--athlete", "Mika Orlov"])
        return (code, *capfd.readouterr())

    return call


def build(kind: str) -> str:
    return BUILDERS[kind](Path(f"{kind}.mp4")).name


def nothing_is_kept() -> bool:
    with open_history() as history:
        return history.list_results("Mika Orlov") == []


@pytest.mark.parametrize(
    ("kind", "seen", "remedy"),
    [
        ("text", "is not a video that can be read", "Choose the video file itself"),
        ("zero_bytes", "is empty (0 bytes)", "Copy the clip from the phone again"),
        ("half", "damaged or its end is missing", "Copy it from the phone again"),
        ("without_index", "or its end is missing", "Copy the clip from the phone again"),
        ("sound_only", "holds sound but no picture", "Choose the video file itself"),
        ("single_picture", "holds a single picture, not a film", "Film the whole movement"),
        ("few_pictures", "holds only 6 pictures", "Film from a second before"),
        ("eleven_minutes", "is 11.0 minutes long", "Cut it to the set itself"),
    ],
)
def test_no_clip_is_told_in_one_line(measure: Measure, kind: str, seen: str, remedy: str) -> None:
    name = build(kind)
    code, out, err = measure(name, "--json", "o.json", "--annotate", "o.mp4", "--frames", "f")
    assert (code, out) == (3, "")
    assert len(err.splitlines()) == 1
    assert name in err
    assert seen in err
    assert remedy in err
    assert [path.name for path in Path().iterdir()] == [name]
    assert nothing_is_kept()


@pytest.mark.parametrize(
    ("kind", "seen", "remedy"),
    [
        ("empty_room", "Nobody can be followed", "Film one athlete, the whole body"),
        pytest.param("dark", "too dark", "with the lights on", marks=pytest.mark.slow),
        pytest.param("panned", "camera turns along", "Lean the phone", marks=pytest.mark.slow),
    ],
)
def test_nobody_to_follow_is_told_in_one_line(
    measure: Measure, kind: str, seen: str, remedy: str
) -> None:
    name = build(kind)
    code, out, err = measure(name, "--json", "o.json", "--annotate", "o.mp4", "--frames", "f")
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert seen in err
    assert remedy in err
    assert [path.name for path in Path().iterdir()] == [name]
    assert nothing_is_kept()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "reason"),
    [
        ("standing_only", "at no moment are both feet off the ground"),
        ("leaves_the_picture", "is seen in only"),
        ("feet_cut", "feet are outside the picture"),
        ("blurred", "is seen in only"),
        ("sideways", "lies on the side"),
    ],
)
def test_a_clip_without_a_number_says_why_and_what_to_do(
    measure: Measure, kind: str, reason: str
) -> None:
    code, out, err = measure(build(kind), "--json", "-")
    assert (code, err) == (1, "")
    report = json.loads(out)
    assert report["jumps"] == []
    assert all(each["reason"] and each["hint"] for each in report["refusals"])
    assert reason in report["refusals"][0]["reason"]
    assert nothing_is_kept()


@pytest.mark.slow
@pytest.mark.clips
def test_feet_outside_the_picture_are_named(measure: Measure, shared_clips: Path) -> None:
    code, out, _ = measure(str(shared_clips / "vertical_feet_cut_60.mp4"))
    assert code == 1
    assert "feet are outside the picture. Step back or tilt the phone" in " ".join(out.split())


@pytest.mark.slow
@pytest.mark.clips
@pytest.mark.parametrize("name", ["ball_juggle_grass", "beam_balance_cam01"])
def test_no_jump_is_invented_in_real_films(
    measure: Measure, shared_real: Path, name: str
) -> None:
    code, out, _ = measure(str(shared_real / f"{name}.mp4"))
    assert code == 1
    assert "Nothing was measured." in out
    assert nothing_is_kept()


@pytest.mark.slow
def test_the_picture_of_a_large_phone_needs_little_memory(tmp_path: Path) -> None:
    clip = BUILDERS["ultra_high"](tmp_path / "large.mp4")
    code = f"{CALL.removesuffix('sys.exit(main(sys.argv[1:]))')}import resource; " + (
        "code = main(sys.argv[1:]); "
        "peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss; "
        "print(peak, file=sys.stderr); sys.exit(code)"
    )
    done = flightmark(clip, "--json", "-", folder=tmp_path, code=code)
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)["jumps"]) == 1
    kilobyte = 1024 if sys.platform == "darwin" else 1
    assert int(done.stderr) / kilobyte < 1_000_000


def test_a_file_that_grows_is_told_to_be_still_written(measure: Measure) -> None:
    name = build("standing_only")
    done = threading.Event()

    def copy_on() -> None:
        while not done.is_set():
            with open(name, "ab") as file:
                file.write(b"more")
            time.sleep(0.02)

    writer = threading.Thread(target=copy_on)
    writer.start()
    try:
        code, out, err = measure(name, "--json", "o.json")
    finally:
        done.set()
        writer.join()
    assert (code, out) == (3, "")
    assert "still being written. Wait until it is fully copied" in err
    assert [path.name for path in Path().iterdir()] == [name]
    assert nothing_is_kept()


def flightmark(
    clip: Path, *argv: str, folder: Path, code: str = CALL, most_bytes: int | None = None
) -> subprocess.CompletedProcess[str]:
    """Measure in a process of its own, that may write no file larger than ``most_bytes``."""
    process = start(clip, *argv, folder=folder, code=code, most_bytes=most_bytes)
    out, err = process.communicate(timeout=LONGEST_WAIT_S)
    return subprocess.CompletedProcess(process.args, process.returncode, out, err)


def start(
    clip: Path, *argv: str, folder: Path, code: str = CALL, most_bytes: int | None = None
) -> subprocess.Popen[str]:
    def limit() -> None:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # ignored where tests run in the background
        if most_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))

    return subprocess.Popen(
        [sys.executable, "-c", code, "measure", str(clip), *argv], cwd=folder, preexec_fn=limit,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "FLIGHTMARK_DATA": str(folder / "data")},
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    ("option", "place", "most_bytes"),
    [("--annotate", "o.mp4", 30_000), ("--frames", "f", 3_000), ("--json", "o.json", 300)],
)
def test_a_disk_that_fills_up_leaves_nothing_half_written(
    tmp_path: Path, option: str, place: str, most_bytes: int
) -> None:
    done = flightmark(
        sample("vertical_side_60"), option, place, folder=tmp_path, most_bytes=most_bytes
    )
    assert done.returncode == 3, done.stderr
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "could not be written" in done.stderr
    assert files_of_the_user(tmp_path) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is closed to this user")
def test_a_closed_folder_is_told_before_the_work(measure: Measure) -> None:
    Path("closed").mkdir(mode=0o500)
    code, out, err = measure(str(sample("vertical_side_60")), "--json", "closed/o.json")
    assert (code, out) == (3, "")
    assert "closed may not be written to. Give another place." in err


@pytest.mark.slow
@pytest.mark.parametrize("drawing", [False, True])
def test_the_keyboard_stops_it_and_nothing_is_half_written(tmp_path: Path, drawing: bool) -> None:
    clip = tmp_path / "clip.mp4"
    shutil.copy(sample("vertical_side_60"), clip)
    process = start(clip, "--json", "o.json", "--annotate", "o.mp4", folder=tmp_path)
    if drawing:
        wait_for_another_file(tmp_path, process)
    else:
        time.sleep(3.0)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=LONGEST_WAIT_S)
    assert (process.returncode, out) == (130, "")
    assert err == "flightmark: Stopped. Nothing was half written.\n"
    assert files_of_the_user(tmp_path) == ["clip.mp4"]


def files_of_the_user(folder: Path) -> list[str]:
    """All files but the whole ones among what was seen in clips, which nothing depends on."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    seen = (".npz", ".json")
    return [each.name for each in files if "seen" not in each.parts or each.suffix not in seen]


def wait_for_another_file(folder: Path, process: subprocess.Popen[str]) -> None:
    """Wait until the annotated film is being written, under whatever name."""
    until = time.monotonic() + LONGEST_WAIT_S
    while len(list(folder.iterdir())) < 2:
        assert process.poll() is None, "it ended before it drew"
        assert time.monotonic() < until, "it never drew"
        time.sleep(0.005)
