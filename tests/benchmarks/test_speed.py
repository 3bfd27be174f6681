"""The benchmark of speed runs, its clips are what they say, and measuring stays light."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import av
import pytest

from app.seen import SeenShelf
from measure.analyse import ClipRequest, analyse_clip
from measure.report import as_json
from tests.benchmarks import phone_clips
from tests.benchmarks.phone_clips import PhoneClip, encoders, make_phone_clip
from tests.benchmarks.speed import print_clip
from tests.benchmarks.usage import python, run_measured
from tests.measure.io.test_athlete import StagedModel

SMALL = PhoneClip("h264", 360, 60, 3, 1.0)
HEAVY = (
    "matplotlib", "streamlit", "sqlalchemy", "alembic", "dask", "distributed", "pyarrow", "pandas",
    "mediapipe", "jax", "plotly", "scipy.optimize", "scipy.stats", "scipy.signal",
    "measure.sprint", "measure.io.sprint_run",
)  # fmt: skip
MEASURE = f"""
import sys
from app.main import main
code = main(["measure", sys.argv[1], "--json", sys.argv[2]])
print(",".join(name for name in {HEAVY!r} if name in sys.modules))
"""


def test_what_a_command_took_is_seen() -> None:
    code = "x = bytearray(80 * 2**20); import time; time.sleep(0.3)\nfor _ in range(10**6): pass"
    usage = run_measured(python("-c", code + "\nprint('done')"))
    assert usage.printed == "done\n"
    assert usage.wall_s > 0.3
    assert 0 < usage.cpu_s < usage.wall_s
    assert 80 < usage.peak_mb < 200


def test_a_command_that_fails_is_an_error() -> None:
    with pytest.raises(RuntimeError, match="no such luck"):
        run_measured(python("-c", "raise SystemExit('no such luck')"))


@pytest.mark.parametrize("codec", sorted(encoders()))
def test_made_clips_are_what_they_say(tmp_path: Path, codec: str) -> None:
    wanted = PhoneClip(codec, 360, 120, 3, 1.0)
    path = make_phone_clip(tmp_path, wanted)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        assert (stream.codec_context.name, stream.width, stream.height) == (codec, 640, 360)
        assert (stream.frames, stream.average_rate) == (120, 120)
    assert 8e-6 * path.stat().st_size == pytest.approx(wanted.mbit_per_s, rel=0.35)
    assert make_phone_clip(tmp_path, wanted) == path


def test_the_film_goes_on_for_as_long_as_one_likes() -> None:
    wanted = PhoneClip("h264", 360, 30, 3, 9.0)
    count = sum(1 for _ in phone_clips._pictures(wanted, phone_clips.sample_source()))
    assert count == 270


@pytest.mark.slow
def test_the_benchmark_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    best = print_clip(make_phone_clip(tmp_path, SMALL))
    assert set(best) == {"decode", "plain", "least", "measure"}
    assert best["decode"].cpu_s < best["least"].cpu_s < best["measure"].cpu_s
    printed = capsys.readouterr().out
    for ratio in ("plain/least", "plain/measure", "measure/decode"):
        assert ratio in printed
    for word in ("peak memory", "steps, s: imports", "poses"):
        assert word in printed


@pytest.mark.slow
def test_measuring_a_jump_imports_no_more_than_it_needs(tmp_path: Path) -> None:
    clip = make_phone_clip(tmp_path, SMALL)
    call = [sys.executable, "-c", MEASURE, str(clip), str(tmp_path / "report.json")]
    done = subprocess.run(call, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "", done.stdout


def test_pictures_are_decoded_before_the_rest_is_imported() -> None:
    late = ("scipy", "measure.contacts", "measure.landing", "measure.exercises", "measure.clock")
    code = "import sys, measure.analyse; print(*(name for name in {!r} if name in sys.modules))"
    done = run_measured(python("-c", code.format(late)))
    assert done.printed.strip() == ""


@pytest.mark.slow
def test_a_clip_is_looked_at_once_whatever_the_stature(tmp_path: Path) -> None:
    clip, shelf = phone_clips.SAMPLES / "vertical_side_60.mp4", SeenShelf(tmp_path)
    first = analyse_clip(ClipRequest(clip, stature_m=1.75), shelf=shelf)
    blind = StagedModel([], name=first.report.versions.pose_model)
    before_s = time.process_time()
    again = analyse_clip(ClipRequest(clip, stature_m=1.75), shelf=shelf, model=blind)
    taller = analyse_clip(ClipRequest(clip, stature_m=1.82), shelf=shelf, model=blind)
    spent_s = time.process_time() - before_s
    assert as_json(again.report) == as_json(first.report)
    assert taller.report.jumps[0].take_off_s == first.report.jumps[0].take_off_s
    assert taller.report.scale is not None
    assert first.report.scale is not None
    assert taller.report.scale.m_per_px > first.report.scale.m_per_px
    assert blind.looks == []
    assert spent_s < 0.6  # a tenth of a second each on a quiet machine
