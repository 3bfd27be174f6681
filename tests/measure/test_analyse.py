"""One clip from file to report, and the clips that must give nothing."""

import json
from pathlib import Path

import pytest

import sample_clips
from measure.analyse import ClipRequest, analyse_clip
from measure.errors import UnreadableClip
from measure.report import as_json
from tests.clip_files import moving_square, write_film

FOLDER = Path(sample_clips.__file__).parent / "clips"


def _first(exercise: str, rate_hz: int) -> Path:
    for path in sorted(FOLDER.glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        wanted = (True, exercise, rate_hz, "side")
        facts = (truth["measurable"], truth["exercise"], truth["file"]["capture_rate_hz"])
        if (*facts, truth["view"]) == wanted:
            return path.with_suffix(".mp4")
    pytest.fail(f"no sample clip of {exercise} at {rate_hz}/s")


@pytest.mark.slow
def test_a_vertical_is_measured_within_its_doubt() -> None:
    path = _first("vertical", 60)
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    analysis = analyse_clip(ClipRequest(path, stature_m=truth["athlete"]["stature_m"]))
    report = analysis.report
    assert report.time_base.status == "as_filed"
    assert len(report.jumps) == len(truth["jumps"])
    for jump, true in zip(report.jumps, truth["jumps"], strict=True):
        error_s = jump.flight_time_s - true["flight_time_s"]
        assert abs(error_s) < 0.012
        assert abs(error_s) < 4 * jump.flight_time_sigma_s
    plain = as_json(report)
    assert plain["schema"] == "flightmark.report/1"
    assert "height_m" in plain["jumps"][0]


@pytest.mark.clips
@pytest.mark.slow
@pytest.mark.parametrize("name", ["ball_juggle_grass", "beam_balance_cam01"])
def test_nothing_is_found_where_nobody_jumps(shared_real: Path, name: str) -> None:
    assert analyse_clip(ClipRequest(shared_real / f"{name}.mp4")).report.jumps == ()


def test_a_handful_of_pictures_is_no_clip(tmp_path: Path) -> None:
    path = tmp_path / "short.mp4"
    write_film(path, moving_square(6), ticks=[1500 * number for number in range(6)])
    with pytest.raises(UnreadableClip, match="only 6 pictures"):
        analyse_clip(ClipRequest(path))
