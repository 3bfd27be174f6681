"""One clip from file to report, and the clips that must give nothing."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import sample_clips
from measure.analyse import Analysis, ClipRequest, analyse_clip
from measure.errors import NothingToMeasure, UnreadableClip
from measure.film import LONGEST_CLIP_S
from measure.io.frame import Frame
from measure.io.kept import KeptStrips
from measure.io.read import Clip
from measure.report import as_json
from tests.clip_files import even_ticks, moving_square, write_film
from tests.measure.io.test_athlete import StagedModel

FOLDER = Path(sample_clips.__file__).parent / "clips"


def _sample(name: str) -> tuple[Path, dict[str, Any]]:
    path = FOLDER / f"{name}.mp4"
    return path, json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))


def _analysed(name: str) -> tuple[Analysis, dict[str, Any], list[tuple[str, float]]]:
    path, truth = _sample(name)
    told: list[tuple[str, float]] = []
    request = ClipRequest(path, stature_m=truth["athlete"]["stature_m"])
    return analyse_clip(request, progress=lambda *step: told.append(step)), truth, told


@pytest.mark.slow
@pytest.mark.parametrize("name", ["vertical_side_60", "vertical_front_60"])
def test_a_vertical_is_measured_within_its_doubt(name: str) -> None:
    analysis, truth, told = _analysed(name)
    report = analysis.report
    assert (report.time_base.status, report.exercise) == ("as_filed", "vertical")
    assert report.view == truth["view"]
    (jump,), (true,) = report.jumps, truth["jumps"]
    error_s = jump.flight_time_s - true["flight_time_s"]
    assert abs(error_s) < 0.010
    assert abs(error_s) < 4 * jump.flight_time_sigma_s
    assert abs(jump.take_off_s - true["take_off_s"]) < 4 * jump.take_off_sigma_s
    assert abs(jump.landing_s - true["landing_s"]) < 4 * jump.landing_sigma_s
    # g T / 4 metres of height for a second of flight time
    assert abs(jump.height_m - true["height_m"]) < 1.3 * 0.010
    assert (jump.take_off_side, jump.landing_side) == ("both", "both")
    assert not [one for one in report.refusals if "jump" in one.what], report.refusals
    assert report.scale is not None
    assert report.clip.frame_count == truth["file"]["frames"]
    assert analysis.track is not None
    assert analysis.time_s.shape == analysis.track.file_time_s.shape
    assert len(analysis.flights) == 1
    assert {step for step, _ in told} == {"poses", "feet"}
    assert all(0 <= part <= 1 for _, part in told)
    plain = as_json(report)
    assert plain["schema"] == "flightmark.report/1"
    assert plain["jumps"][0]["height_m"] == jump.height_m
    json.dumps(plain)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["vertical_side_120", "vertical_portrait_60"])
def test_a_jump_is_decoded_once_and_kept_pictures_change_no_bit(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Clip.frames
    again: list[int] = []

    def watched(clip: Clip, **part: Any) -> Iterator[Frame]:
        again.extend(part.get("wanted") or ())
        return whole(clip, **part)

    monkeypatch.setattr(Clip, "frames", watched)
    once = _analysed(name)[0].report
    assert again == []
    monkeypatch.setattr(KeptStrips, "take", lambda kept, frame: None)
    assert _analysed(name)[0].report == once
    assert again


@pytest.mark.slow
def test_feet_outside_the_picture_are_refused() -> None:
    report = _analysed("vertical_feet_cut_60")[0].report
    assert report.jumps == ()
    (refusal,) = [one for one in report.refusals if one.what == "jumps"]
    assert "feet are outside the picture" in refusal.reason
    assert "Step back" in refusal.hint


@pytest.mark.slow
def test_a_clip_that_starts_in_the_air_gives_no_jump_and_says_why() -> None:
    report = _analysed("vertical_starts_in_air_60")[0].report
    assert report.jumps == ()
    assert report.refusals


@pytest.mark.clips
@pytest.mark.slow
@pytest.mark.parametrize("name", ["ball_juggle_grass", "beam_balance_cam01"])
def test_nothing_is_found_where_nobody_jumps(shared_real: Path, name: str) -> None:
    report = analyse_clip(ClipRequest(shared_real / f"{name}.mp4")).report
    assert report.jumps == ()
    assert any(refusal.what == "jumps" for refusal in report.refusals)


def _film(folder: Path, count: int, *, rate_hz: float = 60.0) -> ClipRequest:
    pictures, ticks = moving_square(count, width=64, height=64), even_ticks(count, rate_hz)
    return ClipRequest(write_film(folder / "film.mp4", pictures, ticks=ticks))


def test_a_handful_of_pictures_is_no_clip(tmp_path: Path) -> None:
    with pytest.raises(UnreadableClip, match="only 6 pictures") as told:
        analyse_clip(_film(tmp_path, 6), model=StagedModel([]))
    assert "a second before" in told.value.remedy


def test_a_fraction_of_a_second_is_no_clip(tmp_path: Path) -> None:
    with pytest.raises(UnreadableClip, match=r"only 20 pictures \(0.32 s\)"):
        analyse_clip(_film(tmp_path, 20), model=StagedModel([]))


def test_an_endless_clip_is_refused_before_it_is_looked_at(tmp_path: Path) -> None:
    request = _film(tmp_path, 12, rate_hz=1 / 30)
    with pytest.raises(UnreadableClip, match=r"5.5 minutes long") as told:
        analyse_clip(request, model=StagedModel([]))
    assert f"{LONGEST_CLIP_S / 60:.0f} minutes at most" in told.value.remedy


def test_a_clip_without_anybody_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NothingToMeasure, match="Nobody"):
        analyse_clip(_film(tmp_path, 40), model=StagedModel([]))


@pytest.mark.parametrize("share", [0.5, 0.9])
def test_half_a_file_is_refused(tmp_path: Path, share: float) -> None:
    whole = (FOLDER / "vertical_side_60.mp4").read_bytes()
    path = tmp_path / "half.mp4"
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(UnreadableClip):
        analyse_clip(ClipRequest(path), model=StagedModel([]))


def test_no_file_and_no_film_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableClip):
        analyse_clip(ClipRequest(tmp_path / "none.mp4"), model=StagedModel([]))
    text = tmp_path / "text.mp4"
    text.write_text("no film")
    with pytest.raises(UnreadableClip):
        analyse_clip(ClipRequest(text), model=StagedModel([]))


def test_a_sprint_needs_its_lane(tmp_path: Path) -> None:
    path = _film(tmp_path, 60).path
    report = analyse_clip(ClipRequest(path, exercise="sprint"), model=StagedModel([])).report
    assert report.sprint is None
    assert [refusal.what for refusal in report.refusals] == ["sprint"]
    assert "lane" in report.refusals[0].hint
