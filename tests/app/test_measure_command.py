"""``flightmark measure``: what it prints, writes and keeps, and how it says no."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.history import open_history
from calibration.values import TimeBase
from measure.cautions import STANDING_NOTICE
from measure.errors import NothingToMeasure, UnreadableClip
from measure.report import Caution, as_json
from measure.request import ClipRequest, Reference
from tests.app.conftest import Run, StandIn
from tests.app.reports import a_jump, a_refusal, a_report

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def clips() -> StandIn:
    slow = TimeBase("slow_motion", 240.0, 8.0, ("A falling body says 8.02 ± 0.03 times slow.",))
    return StandIn(
        {
            "a.mp4": a_report(a_jump(), content="a"),
            "b.mp4": a_report(a_jump(), a_jump(take_off_s=4.0), content="b", time_base=slow),
            "walk.mp4": a_report(content="walk", refusals=(a_refusal(),)),
            "letters.mp4": UnreadableClip("letters.mp4 holds no video.", "Give a video file."),
            "empty.mp4": NothingToMeasure("Nobody is in the picture.", "Film an athlete."),
        }
    )


def kept(athlete: str = "Mika Orlov"):
    with open_history() as history:
        return history.list_results(athlete)


def test_the_table_shows_numbers_with_their_doubt(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "a.mp4", stand_in=clips)
    assert outcome.code == 0
    assert outcome.err == ""
    assert "500 ± 2 " in outcome.out
    assert "30.6 ± 0.3" in outcome.out
    assert "29.1 ± 0.8" in outcome.out
    assert outcome.out.count("one standard uncertainty") == 1
    assert "Frames are 16.7 ms apart." in outcome.out
    assert "height above standing: No quiet standing is seen. Stand still" in outcome.out
    assert "professional" not in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 100


def test_slow_motion_is_said(run: Run, clips: StandIn) -> None:
    assert "slow motion, undone (it plays 8 times slower than life). A falling body" in " ".join(
        run("measure", "b.mp4", stand_in=clips).out.split()
    )


def test_cautions_come_with_the_standing_notice(run: Run) -> None:
    caution = Caution(
        "knees_in", "Knees came in.", "12 ± 4 degrees", "8 degrees", "from memory", 1.8
    )
    stand_in = StandIn({"a.mp4": a_report(a_jump(), cautions=(caution,))})
    words = " ".join(run("measure", "a.mp4", stand_in=stand_in).out.split())
    assert "at 1.80 s: Knees came in. Seen: 12 ± 4 degrees. Threshold: 8 degrees" in words
    assert "It is no diagnosis" in words
    assert words.count(STANDING_NOTICE) == 1


def test_what_is_known_reaches_the_measuring_room(run: Run, clips: StandIn) -> None:
    run(
        "measure", "a.mp4", "--exercise", "vertical", "--stature-m", "1.72", "--sex", "female",
        "--reference", "10,20.5,10,220,1.0", "--capture-rate", "240", "--latitude-deg", "-33.9",
        stand_in=clips,
    )  # fmt: skip
    (request,) = clips.requests
    assert request == ClipRequest(
        Path("a.mp4"), exercise="vertical", stature_m=1.72, sex="female",
        reference=Reference((10.0, 20.5), (10.0, 220.0), 1.0), capture_rate_hz=240.0,
        latitude_deg=-33.9,
    )  # fmt: skip


def test_a_lane_reaches_the_measuring_room(run: Run, clips: StandIn) -> None:
    mark = {"distance_m": 0.0, "px": [211.0, 640.5]}
    lane = {"marks": [mark], "course": [{"distance_m": 5}], "athlete_offset_m": 0.5}
    Path("lane.json").write_text(json.dumps(lane))
    assert run("measure", "a.mp4", "--lane", "lane.json", stand_in=clips).code == 0
    assert clips.requests[0].lane == Path("lane.json")


@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "cannot be read"), ("not JSON", "is not JSON"), ("{}", "marks: expected a list")],
)
def test_a_bad_lane_file_stops_before_the_work(
    run: Run, clips: StandIn, content: str | None, told: str
) -> None:
    if content is not None:
        Path("lane.json").write_text(content)
    outcome = run("measure", "a.mp4", "--lane", "lane.json", "--json", "-", stand_in=clips)
    assert (outcome.code, outcome.out, clips.requests) == (3, "", [])
    assert told in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_json_on_standard_output_is_alone_there(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "a.mp4", "--json", "-", stand_in=clips)
    assert outcome.code == 0
    assert json.loads(outcome.out) == as_json(clips.answers["a.mp4"])


def test_json_of_several_clips_is_one_line_each(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "a.mp4", "letters.mp4", "b.mp4", "--json", "-", stand_in=clips)
    assert outcome.code == 3
    assert [json.loads(line) for line in outcome.out.splitlines()] == [
        as_json(clips.answers[name]) for name in ("a.mp4", "b.mp4")
    ]


def test_outputs_are_written(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "a.mp4", "--json", "out.json", "--annotate", "out.mp4", "--frames",
                  "stills", stand_in=clips)  # fmt: skip
    assert outcome.code == 0
    assert json.loads(Path("out.json").read_text()) == as_json(clips.answers["a.mp4"])
    assert sorted(map(str, Path().rglob("*"))) == [
        "out.json", "out.mp4", "stills", "stills/take-off.jpg"
    ]  # fmt: skip


def test_pictures_of_several_clips_lie_apart(run: Run, clips: StandIn) -> None:
    assert run("measure", "a.mp4", "b.mp4", "--frames", "stills", stand_in=clips).code == 0
    assert sorted(map(str, Path().rglob("*.jpg"))) == [
        "stills/a/take-off.jpg", "stills/b/take-off.jpg"
    ]  # fmt: skip


def test_nothing_measured_is_exit_code_1_and_still_reported(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "walk.mp4", "--json", "-", "--athlete", "Mika Orlov", stand_in=clips)
    assert outcome.code == 1
    assert json.loads(outcome.out)["refusals"][0]["hint"] == "Film a jump."
    assert kept() == []
    told = run("measure", "walk.mp4", stand_in=clips).out
    assert "Nothing was measured." in told
    assert "Both feet never leave the ground together. Film a jump." in told


def test_nobody_in_the_picture_is_exit_code_1(run: Run, clips: StandIn) -> None:
    outcome = run("measure", "empty.mp4", stand_in=clips)
    assert outcome.code == 1
    assert outcome.out == ""
    assert outcome.err == (
        "flightmark: empty.mp4: Nobody is in the picture. Film an athlete.\n"
    )  # fmt: skip


@pytest.mark.parametrize("name", ["letters.mp4", "missing.mp4"])
def test_a_clip_that_cannot_be_read_is_exit_code_3(run: Run, clips: StandIn, name: str) -> None:
    outcome = run("measure", name, "--json", "out.json", "--athlete", "M", stand_in=clips)
    assert outcome.code == 3
    assert outcome.err.startswith("flightmark: ")
    assert outcome.err.count(name) == 1
    assert len(outcome.err.splitlines()) == 1
    assert list(Path().iterdir()) == []
    assert kept("M") == []


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        ([], "COMMAND"),
        (["measure"], "CLIP"),
        (["measure", "a.mp4", "--exercise", "somersault"], "drop_hops"),
        (["measure", "a.mp4", "--stature-m", "172"], "stature in metres, such as 1.72"),
        (["measure", "a.mp4", "--stature-m", "nan"], "stature in metres"),
        (["measure", "a.mp4", "--capture-rate", "0"], "pictures per second"),
        (["measure", "a.mp4", "--reference", "1,2,3,4"], "X1,Y1,X2,Y2,LENGTH_M"),
        (["measure", "a.mp4", "--reference", "1,2,1,2,0.5"], "two different points"),
        (["measure", "a.mp4", "--reference", "1,2,3,4,-1"], "two different points"),
        (["measure", "a.mp4", "--athlete", " "], "name of 1 to 100 letters"),
        (["measure", "a.mp4", "--date", "2.3.2026", "--athlete", "M"], "YYYY-MM-DD"),
        (["measure", "a.mp4", "--lane", "l.json", "--exercise", "vertical"], "--lane is for a run"),
        (["measure", "a.mp4", "--date", "2026-03-02"], "--athlete"),
        (["measure", "a.mp4", "--annotate", "out.avi"], ".mp4"),
        (["measure", "a.mp4", "--annotate", "a.mp4"], "over a clip"),
        (["measure", "a.mp4", "--json", "./a.mp4"], "over a clip"),
        (["measure", "a.mp4", "b.mp4", "--annotate", "out.mp4"], "one CLIP"),
        (["measure", "a.mp4", "x/a.mp4", "--frames", "stills"], "different names"),
    ],
)
def test_a_wrong_call_is_exit_code_2_and_says_what_was_expected(
    run: Run, clips: StandIn, argv: list[str], told: str
) -> None:
    outcome = run(*argv, stand_in=clips)
    assert outcome.code == 2
    assert told in outcome.err
    assert outcome.out == ""
    assert clips.requests == []


@pytest.mark.parametrize(
    ("option", "place"),
    [
        ("--json", "file/out.json"),
        ("--json", "nowhere/out.json"),
        ("--json", "folder"),
        ("--annotate", "file/out.mp4"),
        ("--annotate", "full.mp4"),
        ("--frames", "file"),
        ("--frames", "nowhere/stills"),
        ("--json", "/dev/full"),
    ],
)
def test_no_place_for_an_output_is_exit_code_3_and_keeps_nothing(
    run: Run, clips: StandIn, option: str, place: str
) -> None:
    if place == "/dev/full" and not Path(place).exists():
        pytest.skip("this system has no device that is always full")
    Path("file").write_text("mine")
    Path("folder").mkdir()
    outcome = run("measure", "a.mp4", option, place, "--athlete", "Mika Orlov", stand_in=clips)
    assert outcome.code == 3
    assert outcome.err.startswith("flightmark: ")
    assert sorted(path.name for path in Path().rglob("*")) == ["file", "folder"]
    assert Path("file").read_text() == "mine"
    assert kept() == []
    if place == "/dev/full":
        assert Path(place).is_char_device()


def test_a_full_disk_leaves_the_older_json(
    run: Run, clips: StandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("out.json").write_text("older")

    def refuse(*_paths: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    outcome = run("measure", "a.mp4", "--json", "out.json", "--athlete", "M", stand_in=clips)
    assert outcome.code == 3
    assert "No space left on device" in outcome.err
    assert [path.name for path in Path().iterdir()] == ["out.json"]
    assert Path("out.json").read_text() == "older"
    assert kept("M") == []


def test_an_interruption_keeps_nothing_of_the_clip(run: Run, clips: StandIn) -> None:
    clips.answers["b.mp4"] = KeyboardInterrupt()
    outcome = run("measure", "a.mp4", "b.mp4", "--json", "o.json", "--athlete", "M",
                  stand_in=clips)  # fmt: skip
    assert outcome.code == 130
    assert "Traceback" not in outcome.err
    assert [result.clip_name for result in kept("M")] == ["a.mp4"]
    assert len(Path("o.json").read_text().splitlines()) == 1


def test_a_fault_of_our_own_is_told_from_a_bad_clip(run: Run, clips: StandIn) -> None:
    clips.answers["a.mp4"] = ZeroDivisionError("a slip")
    outcome = run("measure", "a.mp4", "--athlete", "M", stand_in=clips)
    assert outcome.code == 4
    assert "a slip" in outcome.err
    assert "fault in flightmark itself" in outcome.err
    assert kept("M") == []


def test_without_an_athlete_nothing_is_kept(run: Run, clips: StandIn, data_folder: Path) -> None:
    assert run("measure", "a.mp4", stand_in=clips).code == 0
    assert not data_folder.exists()


def test_an_athletes_result_is_kept_with_its_day_and_stature(run: Run, clips: StandIn) -> None:
    run("measure", "a.mp4", "--athlete", "Mika Orlov", "--stature-m", "1.72", stand_in=clips)
    run("measure", "a.mp4", "b.mp4", "--athlete", "mika orlov", "--date", "2026-03-09",
        stand_in=clips)  # fmt: skip
    filmed_at = datetime(2026, 3, 2, 17, 5, tzinfo=UTC)
    assert [(result.clip_name, str(result.on_date)) for result in kept()] == [
        ("a.mp4", str(filmed_at.astimezone().date())), ("b.mp4", "2026-03-09"),
    ]  # fmt: skip
    assert [request.stature_m for request in clips.requests] == [1.72, 1.72, 1.72]


def test_a_history_of_a_newer_flightmark_stops_before_the_work(
    run: Run, clips: StandIn, data_folder: Path
) -> None:
    data_folder.mkdir()
    (data_folder / "history.sqlite").write_text("no history at all " * 100)
    outcome = run("measure", "a.mp4", "--athlete", "M", stand_in=clips)
    assert outcome.code == 3
    assert "history" in outcome.err
    assert clips.requests == []


def test_a_name_cannot_drive_the_terminal(run: Run) -> None:
    name = "\x1b[31mred.mp4"
    outcome = run("measure", name, stand_in=StandIn({name: a_report(a_jump())}))
    assert outcome.code == 0
    assert "\x1b" not in outcome.out


def test_progress_shows_only_on_a_terminal() -> None:
    import io

    from app.progress import ProgressLine

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for stream, shows in ((io.StringIO(), False), (Terminal(), True)):
        with ProgressLine(stream, "a.mp4") as progress:
            progress("poses", 0.25)
        assert ("a.mp4: poses  25 %" in stream.getvalue()) is shows
    assert stream.getvalue().endswith("\r")


def test_help_needs_nothing_heavy() -> None:
    code = (
        "import sys; from app.main import main; main(['measure', '--help']); "
        "heavy = {'numpy', 'scipy', 'cv2', 'av', 'mediapipe', 'sqlalchemy', 'streamlit'}; "
        "sys.exit(','.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "--stature-m" in done.stdout


def test_the_program_looks_for_no_garbage_in_what_it_loads_and_at_its_end() -> None:
    code = (
        "import atexit, gc, sys\n"
        "said = lambda: print(gc.get_threshold()[0] > 10_000, gc.get_freeze_count() > 1000)\n"
        "atexit.register(said)\n"
        "from app.main import run\n"
        "run()"
    )
    for options, exit_code in ((["--version"], 0), (["measure"], 2)):
        call = [sys.executable, "-c", code, *options]
        done = subprocess.run(call, capture_output=True, text=True, cwd=ROOT)
        assert done.returncode == exit_code
        assert done.stdout.splitlines()[-1] == "True True"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("options", [[], ["--json", "-"]])
def test_standard_output_that_is_full_is_exit_code_3(options: list[str]) -> None:
    code = (
        "import sys\n"
        "from app.main import main\n"
        "from tests.app.conftest import StandIn\n"
        "from tests.app.reports import a_jump, a_report\n"
        "stand_in = StandIn({'a.mp4': a_report(a_jump())})\n"
        "sys.exit(main(['measure', 'a.mp4', *sys.argv[1:]], measuring=stand_in.measuring))\n"
    )
    call = [sys.executable, "-c", code, *options]
    with open("/dev/full", "w") as full:
        done = subprocess.run(call, stdout=full, stderr=subprocess.PIPE, cwd=ROOT)
    assert done.returncode == 3
    assert done.stderr.startswith(b"flightmark: The output could not be written")
    assert len(done.stderr.splitlines()) == 1
