"""Following a runner with a stand-in for the pose model, on films drawn for it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calibration.lane import fit_lane
from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.analyse import ClipRequest, analyse_clip
from measure.io.frame import Frame
from measure.io.lane_file import load_lane
from measure.io.motion import MotionMap, read_motion
from measure.io.pose import Landmarks, Picture, Region
from measure.io.pose_landmarks import BundledPose
from measure.io.read import Clip, open_clip
from measure.io.runner import film_runner
from measure.io.set_change import change_from_set
from measure.io.sprint_run import RunFacts, analyse_sprint
from measure.sprint.trace import RunTrace, trace_runner
from measure.types import Foot, Landmark
from tests.calibration.lanes import camera, survey
from tests.clip_files import even_ticks, write_film
from tests.measure.io.lane_pictures import ground, moved, small_move
from tests.measure.sprint.runs import START_S, sprint_m

Bytes = NDArray[np.uint8]
RATE_HZ = 30
COUNT = 9 * RATE_HZ // 2
TIME_S = np.arange(COUNT) / RATE_HZ
CLOCK = TimeBase("as_filed", RATE_HZ, 1.0, ())
BODY_RGB, STRIPE_RGB = (250, 40, 200), (190, 0, 150)


class BodyFinder:
    """Stands in for a pose model: reads the drawn body's middle off its colour."""

    name = "body_finder"

    def detect(self, picture: Picture, area: Region | None = None) -> list[Region]:
        """Nobody is looked for in the whole picture."""
        return []

    def landmarks(self, picture: Picture, region: Region) -> Landmarks | None:
        """Hips at the body's middle, all else about it."""
        matrix = region.upright_from_crop(128)
        crop = picture.warp(matrix, size_px=128).astype(int)
        body = (crop[..., 0] > 160) & (crop[..., 1] < 100) & (crop[..., 2] > 110)
        if body.sum() < 30:
            return None
        y, x = np.nonzero(body)
        middle = matrix[:, :2] @ [x.mean() + 0.5, y.mean() + 0.5] + matrix[:, 2]
        tall = (y.max() - y.min() + 1) * region.size_px / 128
        px = np.tile(middle, (len(Landmark), 1))
        for left, up in ((Landmark.LEFT_SHOULDER, 0.3), (Landmark.LEFT_HEEL, -0.45),
                         (Landmark.LEFT_TOE, -0.45), (Landmark.LEFT_ANKLE, -0.42)):  # fmt: skip
            px[[left, left + 1], 1] -= up * tall
        axis = np.array([middle, middle - [0.0, 0.6 * tall]])
        ones = np.ones(len(Landmark))
        return Landmarks(px, ones, np.zeros((len(Landmark), 3)), 1.0, axis)


def lane() -> Lane:
    fitted = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(fitted, Lane)
    return fitted


def run(at: Lane, place_m: NDArray[np.float64], *, shaken: bool = False) -> Iterator[Bytes]:
    """A body 0.4 m wide and 1.7 m tall, striped, middle at 0.85 m, on drawn grass."""
    picture = ground()
    for number, here_m in enumerate(place_m):
        frame = picture.copy()
        corners = picture_from_lane(at, here_m + np.array([-0.2, 0.2]), np.array([1.7, 0.0]))
        (x0, x1), (y0, y1) = np.rint(np.sort(corners.T, axis=1)).astype(int)
        frame[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = BODY_RGB
        frame[max(y0, 0) : max(y1, 0), max(x0 + 3, 0) : max(x1, 0) : 6] = STRIPE_RGB
        frame[max(y0, 0) : max(y1, 0), max(x0 + 4, 0) : max(x1, 0) : 6] = STRIPE_RGB
        if shaken:
            sway = np.sin(number / RATE_HZ * np.array([9.0, 7.0])) * 3
            frame = moved(frame, small_move(shift_px=(float(sway[0]), float(sway[1]))))
        yield frame


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("films") / "run.mp4"
    return write_film(path, run(lane(), sprint_m(TIME_S)), ticks=even_ticks(COUNT, RATE_HZ))


@pytest.fixture(scope="module")
def shaken_film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("films") / "shaken.mp4"
    pictures = run(lane(), sprint_m(TIME_S), shaken=True)
    return write_film(path, pictures, ticks=even_ticks(COUNT, RATE_HZ))


@pytest.fixture(scope="module")
def banded_film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Under a lamp that flickers: other bands in every picture."""
    path = tmp_path_factory.mktemp("films") / "banded.mp4"
    way = np.linspace(0, 7.5, 1080)
    pictures = (
        np.clip(picture * (1 + 0.2 * np.sin(way + 2.5 * number))[:, None, None], 0, 255)
        .astype(np.uint8)
        for number, picture in enumerate(run(lane(), sprint_m(TIME_S)))
    )  # fmt: skip
    return write_film(path, pictures, ticks=even_ticks(COUNT, RATE_HZ))


def mapped(clip: Clip) -> tuple[MotionMap, RunTrace]:
    motion = read_motion(clip, lane(), time_base=CLOCK)
    assert isinstance(motion, MotionMap), motion
    trace = trace_runner(motion.time_s, motion.distance_m, motion.moving_m2)
    assert isinstance(trace, RunTrace), trace
    return motion, trace


@pytest.mark.parametrize("name", ["film", pytest.param("shaken_film", marks=pytest.mark.slow)])
def test_the_body_is_traced_and_followed(name: str, request: pytest.FixtureRequest) -> None:
    with open_clip(request.getfixturevalue(name)) as clip:
        motion, trace = mapped(clip)
        assert motion.camera_still == (name == "film")
        seen = (TIME_S > START_S + 0.3) & (TIME_S < 4.2)
        np.testing.assert_allclose(trace.at(TIME_S[seen]), sprint_m(TIME_S[seen]), atol=0.4)
        empty_rgb = motion.still_rgb if motion.camera_still else None
        followed = film_runner(
            clip, BodyFinder(), lane(), trace, time_base=CLOCK, empty_rgb=empty_rgb
        )
    assert (followed.ground is None) == (empty_rgb is None)
    assert followed.time_s.size == followed.asked
    assert followed.time_s[0] < START_S - 0.2
    true_px = picture_from_lane(lane(), sprint_m(followed.time_s), np.array(0.85))
    hips_px = followed.lane_px[:, Landmark.LEFT_HIP]
    np.testing.assert_allclose(hips_px, true_px, atol=1.6)
    assert np.abs((hips_px - true_px).mean(axis=0)).max() < 0.5


def test_the_set_position_is_kept_and_left_when_the_run_begins(film: Path) -> None:
    with open_clip(film) as clip:
        motion, trace = mapped(clip)
        followed = film_runner(
            clip, BodyFinder(), lane(), trace, time_base=CLOCK, empty_rgb=motion.still_rgb
        )
    pictures = followed.set_pictures
    assert pictures is not None
    change = change_from_set(pictures)
    still = pictures.time_s < START_S
    assert change[still].max() < 0.02 * change.max()
    assert change[pictures.time_s > START_S + 0.25].min() > 0.1 * change.max()


def test_slow_motion_is_followed_on_the_real_clock(film: Path) -> None:
    slow = TimeBase("slow_motion", RATE_HZ * 4, 4.0, ())
    with open_clip(film) as clip:
        motion = read_motion(clip, lane(), time_base=slow)
    assert isinstance(motion, MotionMap)
    assert motion.time_s[-1] == pytest.approx(TIME_S[-1] / 4, abs=0.08)


def test_marks_are_timed_from_pictures(film: Path) -> None:
    told: list[float] = []
    with open_clip(film) as clip:
        outcome = analyse_sprint(
            clip, BodyFinder(), lane(), time_base=CLOCK, progress=told.append
        )
    assert outcome.report is not None, outcome.refusals
    assert [mark.distance_m for mark in outcome.report.marks] == [4.572, 9.144, 13.716]
    true_s = np.interp([4.572, 9.144, 13.716], sprint_m(TIME_S), TIME_S)
    timed_s = [mark.time_s for mark in outcome.report.marks]
    np.testing.assert_allclose(timed_s, true_s, atol=0.01)
    assert any(refusal.what == "mark 18.288 m" for refusal in outcome.refusals)
    assert 0 <= min(told) <= max(told) <= 1
    assert told[-1] == pytest.approx(1.0, abs=0.05)


def test_under_a_lamp_that_flickers_marks_are_timed_and_light_is_not_told_from_a_body(
    banded_film: Path
) -> None:
    with open_clip(banded_film) as clip:
        outcome = analyse_sprint(clip, BodyFinder(), lane(), time_base=CLOCK)
    assert outcome.report is not None, outcome.refusals
    true_s = np.interp([4.572, 9.144, 13.716], sprint_m(TIME_S), TIME_S)
    timed_s = [mark.time_s for mark in outcome.report.marks]
    np.testing.assert_allclose(timed_s, true_s, atol=0.015)
    refused = {refusal.what: refusal for refusal in outcome.refusals}
    for what in ("start_s", "contact_time_s"):
        assert "lamp flickers" in refused[what].reason
        assert "daylight" in refused[what].hint


def test_a_start_set_by_hand_is_kept_under_its_own_rule(film: Path) -> None:
    with open_clip(film) as clip:
        outcome = analyse_sprint(
            clip, BodyFinder(), lane(), time_base=CLOCK, facts=RunFacts(start_s=1.02)
        )
    assert outcome.report is not None
    assert outcome.report.start_s == 1.02
    assert outcome.report.start_rule == "first_movement, set by hand"
    assert outcome.report.start_sigma_s == pytest.approx(0.5 / RATE_HZ, rel=0.01)
    assert outcome.report.splits[0].from_m is None


def test_the_other_way_and_another_line_are_refused(film: Path) -> None:
    fitted = lane()
    turned = replace(fitted, survey=replace(fitted.survey, course_m=(18.288, 9.144, 4.572)))
    farther = replace(fitted, survey=replace(fitted.survey, athlete_offset_m=4.0))
    with open_clip(film) as clip:
        for given, reason in ((turned, "the other way"), (farther, "nearer to the phone")):
            outcome = analyse_sprint(clip, BodyFinder(), given, time_base=CLOCK)
            assert outcome.report is None
            assert reason in outcome.refusals[0].reason


def test_a_lane_of_another_picture_is_refused(film: Path) -> None:
    with open_clip(film) as clip:
        outcome = analyse_sprint(
            clip, BodyFinder(), replace(lane(), width_px=1280), time_base=CLOCK
        )
    assert "1280 by 1080" in outcome.refusals[0].reason


def test_a_run_in_real_time_is_looked_through_once_before_its_runner_is_followed(
    film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_clip(film) as clip:
        by_itself = analyse_sprint(clip, BodyFinder(), lane(), time_base=CLOCK)
    passes: list[Clip] = []
    frames = Clip.frames

    def counted(clip: Clip, **asked: Any) -> Iterator[Frame]:
        passes.append(clip)
        return frames(clip, **asked)

    monkeypatch.setattr(Clip, "frames", counted)
    monkeypatch.setattr("measure.analyse_run.load_lane", lambda path: survey(camera()))
    monkeypatch.setattr(  # the ground stands too still to tell a repeated picture
        "measure.analyse_run.decide_file_clock", lambda *_, **__: (CLOCK, np.ones(COUNT, bool))
    )
    request = ClipRequest(film, exercise="sprint", lane=Path("lane.json"))
    report = analyse_clip(request, model=BodyFinder()).report
    assert report.sprint == by_itself.report
    assert report.sprint is not None
    assert len(passes) == 2


def _refusal(folder: Path, pictures: Iterator[Bytes]) -> Refused:
    path = write_film(folder / "film.mp4", pictures, ticks=even_ticks(24, RATE_HZ))
    with open_clip(path) as clip:
        outcome = analyse_sprint(clip, BodyFinder(), lane(), time_base=CLOCK)
    assert outcome.report is None
    return outcome.refusals[0]


def test_an_empty_lane_is_refused(tmp_path: Path) -> None:
    assert "Nobody" in _refusal(tmp_path, (ground() for _ in range(24))).reason


def test_a_panning_camera_is_refused(tmp_path: Path) -> None:
    whole = ground()
    pans = (moved(whole, small_move(shift_px=(-12.0 * n, 0.0))) for n in range(24))
    assert "camera moved" in _refusal(tmp_path, pans).reason


def test_a_refused_clock_is_a_wrong_call(film: Path) -> None:
    clock = TimeBase("refused", 30.0, 1.0, (), Refused("time_base", "r", "h"))
    with open_clip(film) as clip, pytest.raises(ValueError, match="time_base"):
        analyse_sprint(clip, BodyFinder(), lane(), time_base=clock)


@pytest.mark.clips
@pytest.mark.slow
@pytest.mark.parametrize(("name", "turns", "said"), [
    ("sprint_30_hall", False, "right"), ("sprint_60_field", False, None),
    ("shuffle_60_field", True, None),
])  # fmt: skip
def test_a_drawn_clip_within_the_promised_errors(
    shared_clips: Path, name: str, turns: bool, said: Foot | None
) -> None:
    truth = json.loads((shared_clips / f"{name}.json").read_text())["sprint"]
    fitted = fit_lane(
        load_lane(shared_clips / f"{name}.lane.json"), width_px=1920, height_px=1080
    )
    assert isinstance(fitted, Lane)
    with open_clip(shared_clips / f"{name}.mp4") as clip:
        outcome = analyse_sprint(
            clip, BundledPose(), fitted, time_base=CLOCK,
            facts=RunFacts(turns=turns, start_foot=said),
        )  # fmt: skip
    report = outcome.report
    assert report is not None
    assert outcome.refusals == ()
    # A person's word stands; without it the steps show the foot.
    seen = not turns and said is None
    assert report.start_foot == ("left" if seen else said)
    assert (report.start_foot_chance is not None) == seen
    true_s = [mark["time_s"] for mark in truth["marks"]]
    errors_s = np.array([mark.time_s for mark in report.marks]) - true_s
    assert abs(errors_s[0]) < (0.020 if turns else 0.012)
    assert np.sqrt(np.mean(np.square(errors_s[1:]))) < 0.006
    assert report.start_s == pytest.approx(truth["start_s"], abs=0.025)
    assert report.max_speed_mps == pytest.approx(truth["max_speed_mps"], rel=0.015)
    if turns:
        assert report.turn is not None
        assert report.turn.side == "left"
        # A foot that is pushed off sideways drags: its lift is seen to 20 ms, not to 15.
        assert report.turn.start_s == pytest.approx(truth["turn_start_s"], abs=0.025)
        assert report.turn.end_s == pytest.approx(truth["turn_end_s"], abs=0.015)
