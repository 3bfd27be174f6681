"""The annotated film and the stills, from an analysis whose every number is known."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.values import Refused, Scale, TimeBase
from measure.analyse import Analysis
from measure.errors import OutputFailed, UnreadableClip
from measure.io.annotate import annotate_clip, write_stills
from measure.io.captions import say_event, say_landing, say_moment, say_time, show
from measure.io.draw import LEFT
from measure.io.look import CameraPath
from measure.io.moments import Event
from measure.io.read import open_clip
from measure.io.sheet import LONGEST_SIDE_PX, lay_sheet
from measure.report import (
    ClipFacts,
    JumpReport,
    LandingReport,
    MarkTime,
    Report,
    SprintReport,
    Versions,
)
from measure.request import ClipRequest
from measure.types import Contact, Instant, Landmark, PoseTrack
from tests.clip_files import CLOCK_HZ, even_ticks, moving_square, set_rotation, write_film

WIDTH_PX, HEIGHT_PX = 640, 480
COUNT = 48
JUMP = JumpReport(0.2534, 0.002, 0.5021, 0.001, 0.2487, 0.0022, 0.0758, 0.0014)
LANDING = LandingReport(
    knee_flexion_contact_deg={"left": 31.0, "right": 29.0},
    knee_flexion_contact_sigma_deg={"left": 4.0, "right": 4.0},
    knee_flexion_peak_deg={"left": 62.0}, knee_flexion_peak_sigma_deg={"left": 5.0},
    deepest_s=0.6,
)  # fmt: skip


def upright_body(file_time_s, *, width=WIDTH_PX, height=HEIGHT_PX):
    """A thigh from top to bottom of the picture's middle."""
    rows = len(file_time_s)
    px = np.full((rows, len(Landmark), 2), np.nan)
    px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]] = width / 2, height * 0.1
    px[:, Landmark.LEFT_KNEE] = width / 2, height * 0.9
    return PoseTrack(np.arange(rows), file_time_s, px, np.ones((rows, len(Landmark))),
                     np.zeros((rows, len(Landmark), 3)), width, height)  # fmt: skip


def analysis_of(path, *, slow=1.0, **report):
    with open_clip(path) as clip:
        stream, file_time_s = clip.stream, clip.stamps.file_time_s
    time_base = TimeBase("as_filed" if slow == 1 else "slow_motion", 60 * slow, slow, ())
    facts = ClipFacts(stream.sha256, stream.width_px, stream.height_px, len(file_time_s),
                      float(file_time_s[-1]) / slow, stream.rotation_deg)  # fmt: skip
    told = {"jumps": (JUMP,), "contacts": contacts(), **report}
    return Analysis(
        ClipRequest(path), Report(facts, time_base, Versions("0", "none", "0"), **told),
        upright_body(file_time_s, width=stream.width_px, height=stream.height_px),
        file_time_s / slow, file_time_s / slow,
    )  # fmt: skip


def contacts():
    off, on = Instant(JUMP.take_off_s, 0.002), Instant(JUMP.landing_s, 0.001)
    return tuple(
        Contact(foot, *ends) for foot in ("left", "right") for ends in ((None, off), (on, None))
    )


@pytest.fixture(scope="module")
def clip_path(tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "a.mp4"
    pictures = moving_square(COUNT, width=WIDTH_PX, height=HEIGHT_PX)
    return write_film(path, pictures, ticks=even_ticks(COUNT, 60))


def read_frames(path):
    with open_clip(path) as clip:
        return [frame.rgb() for frame in clip.frames()], clip.stamps.file_time_s, clip.stream


def is_orange(picture):
    return (np.abs(picture.astype(int) - LEFT) < 60).all(axis=2)


def test_the_film_keeps_every_frame_at_its_moment(clip_path, tmp_path):
    annotate_clip(analysis_of(clip_path), tmp_path / "out.mp4")
    frames, file_time_s, stream = read_frames(tmp_path / "out.mp4")
    with open_clip(clip_path) as clip:
        np.testing.assert_allclose(file_time_s, clip.stamps.file_time_s, atol=1e-4)
    assert stream.codec == "h264"
    assert len(frames) == COUNT
    assert stream.width_px == WIDTH_PX
    assert stream.height_px > HEIGHT_PX  # words and strip stand below the film, not on it


def test_uneven_times_stay(tmp_path):
    ticks = [0, 1500, 4500, 5000, 9000, 9600, 20000, 21500, 23000, 24500]
    path = write_film(tmp_path / "a.mp4", moving_square(10), ticks=ticks)
    annotate_clip(analysis_of(path, jumps=(), contacts=()), tmp_path / "out.mp4")
    _, file_time_s, _ = read_frames(tmp_path / "out.mp4")
    np.testing.assert_allclose(file_time_s, np.array(ticks) / CLOCK_HZ, atol=1e-4)


def test_slow_motion_stays_slow(clip_path, tmp_path):
    annotate_clip(analysis_of(clip_path, slow=4.0), tmp_path / "out.mp4")
    _, file_time_s, _ = read_frames(tmp_path / "out.mp4")
    assert file_time_s[-1] == pytest.approx((COUNT - 1) / 60, abs=1e-3)


def test_the_body_is_drawn_where_it_is(clip_path, tmp_path):
    annotate_clip(analysis_of(clip_path), tmp_path / "out.mp4")
    frames, _, _ = read_frames(tmp_path / "out.mp4")
    _, columns = np.nonzero(is_orange(frames[20][:HEIGHT_PX]))
    assert columns.mean() + 0.5 == pytest.approx(WIDTH_PX / 2, abs=1)


def test_where_the_camera_moved_the_body_moves_along(clip_path, tmp_path):
    """Shifted by (-40, 0) into the first picture, so that the body is 40 px to the right here."""
    path = np.tile(np.array([[1.0, 0.0, -40.0], [0.0, 1.0, 0.0]]), (2, 1, 1))
    camera = CameraPath(np.array([0, COUNT - 1]), path, 40.0)
    annotate_clip(replace(analysis_of(clip_path), camera=camera), tmp_path / "out.mp4")
    frames, _, _ = read_frames(tmp_path / "out.mp4")
    _, columns = np.nonzero(is_orange(frames[20][:HEIGHT_PX]))
    assert columns.mean() + 0.5 == pytest.approx(WIDTH_PX / 2 + 40, abs=1)


@pytest.mark.parametrize("clockwise_deg", [90, 180, 270])
def test_turned_films_come_out_upright(clip_path, tmp_path, clockwise_deg):
    path = write_film(tmp_path / "a.mp4", moving_square(12), ticks=even_ticks(12, 60))
    set_rotation(path, clockwise_deg)
    analysis = analysis_of(path, jumps=(), contacts=())
    annotate_clip(replace(analysis, track=None, time_s=np.empty(0)), tmp_path / "out.mp4")
    frames, _, stream = read_frames(tmp_path / "out.mp4")
    with open_clip(path) as clip:
        upright = [frame.rgb() for frame in clip.frames()]
    assert stream.rotation_deg == 0
    height, width = upright[5].shape[:2]
    apart = np.abs(frames[5][:height, :width].astype(int) - upright[5])
    assert apart.mean() < 6


def test_a_large_film_is_made_smaller(tmp_path):
    path = write_film(
        tmp_path / "a.mp4", moving_square(4, width=1920, height=1080), ticks=even_ticks(4, 60)
    )
    annotate_clip(analysis_of(path), tmp_path / "out.mp4")
    frames, _, _ = read_frames(tmp_path / "out.mp4")
    assert max(frames[0].shape) <= LONGEST_SIDE_PX + 2
    _, columns = np.nonzero(is_orange(frames[3][: round(1080 * frames[0].shape[1] / 1920)]))
    assert columns.mean() + 0.5 == pytest.approx(frames[0].shape[1] / 2, abs=1)


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (720, 1280), (3840, 2160), (318, 241)])
def test_every_shape_fits(width, height, clip_path):
    from measure.io.annotate import _tell

    sheet = lay_sheet(_tell(analysis_of(clip_path)), width_px=width, height_px=height)
    tall_px = sheet.picture_px + sheet.words_px + sheet.strip.shape[0]
    assert max(sheet.width_px, tall_px) <= LONGEST_SIDE_PX + 4
    assert sheet.width_px / sheet.picture_px == pytest.approx(width / height, rel=0.02)


def test_a_refused_clip_still_has_its_body_and_the_reason(clip_path, tmp_path):
    refused = Refused("time_s", "The pace changes on the way.", "Film at one pace.")
    analysis = analysis_of(clip_path, jumps=(), contacts=(), refusals=(refused,))
    time_base = TimeBase("refused", 60.0, 1.0, (), refused)
    analysis = replace(analysis, report=replace(analysis.report, time_base=time_base))
    annotate_clip(analysis, tmp_path / "out.mp4")
    frames, _, _ = read_frames(tmp_path / "out.mp4")
    assert is_orange(frames[20][:HEIGHT_PX]).any()
    said = say_moment(analysis.report, at_s=0.3)
    assert said == ("Not measured: The pace changes on the way.",)
    assert say_time(analysis.report, at_s=0.3) == "file time 0.300 s"
    assert [path.name for path in write_stills(analysis, tmp_path)] == ["hip_height.png"]


def test_the_stills_are_the_nearest_frames(clip_path, tmp_path):
    analysis = analysis_of(clip_path, jumps=(replace(JUMP, landing=LANDING),))
    written = write_stills(analysis, tmp_path)
    assert sorted(path.name for path in written) == [
        "hip_height.png", "jump1_deepest.jpg", "jump1_landing.jpg", "jump1_take_off.jpg",
    ]  # fmt: skip
    assert all(path.stat().st_size > 0 for path in written)


def test_a_still_says_how_far_it_is_from_its_event():
    event = Event(2, "take_off", 0.2534, 0.0023)
    assert say_event(event, frame_time_s=0.25) == (
        "Jump 2: take-off at 0.253 ± 0.002 s", "3.4 ms after this picture",
    )  # fmt: skip
    assert say_event(event, frame_time_s=0.2667)[1] == "13.3 ms before this picture"
    assert say_event(event, frame_time_s=0.2534)[1] == "exactly at this picture"


def test_a_repeated_picture_is_no_still(tmp_path):
    """Its own time is later than what it shows."""
    from measure.io.annotate import _frames_of

    path = write_film(tmp_path / "a.mp4", moving_square(COUNT), ticks=even_ticks(COUNT, 60))
    whole = analysis_of(path)
    kept = np.array([row for row in range(COUNT) if row % 2 == 0])
    track = upright_body(whole.frame_time_s[kept])
    facts = replace(whole.report.clip, repeated_frame_count=COUNT // 2)
    thinned = replace(whole, report=replace(whole.report, clip=facts), track=track,
                      time_s=whole.time_s[kept])  # fmt: skip
    event = (Event(1, "take_off", 15 / 60, 0.002),)
    with open_clip(path) as clip:
        assert list(_frames_of(whole, clip, event)) == [15]
        assert next(iter(_frames_of(thinned, clip, event))) in (14, 16)


def test_words_follow_the_clip():
    report = report_with(jumps=(replace(JUMP, landing=LANDING),))
    assert say_moment(report, at_s=0.1) == ()
    assert say_moment(report, at_s=0.3) == ("Jump 1: height 7.6 ± 0.1 cm", "air 249 ± 2 ms")
    assert say_moment(report, at_s=0.55)[1] == "landing: knee bent L 31 ± 4°, R 29 ± 4°"
    assert say_moment(report, at_s=0.7)[1] == "deepest: knee bent L 62 ± 5°"


def test_every_number_in_the_words_has_its_doubt():
    report = report_with(jumps=(replace(
        JUMP, height_com_m=0.07, height_com_sigma_m=0.01, contact_time_s=0.2,
        contact_time_sigma_s=0.004,
    ),))  # fmt: skip
    lines = say_moment(report, at_s=0.6)
    assert lines == (
        "Jump 1: height 7.6 ± 0.1 cm, body's rise 7.0 ± 1.0 cm",
        "air 249 ± 2 ms, ground before it 200 ± 4 ms",
    )


def test_slow_motion_is_said():
    report = report_with(time_base=TimeBase("slow_motion", 240.0, 8.0, ()))
    assert say_time(report, at_s=1.25) == "1.250 s  (shown 8x slower)"


def test_a_run_says_the_marks_that_were_passed():
    marks = (MarkTime(5.0, 1.21, 0.004), MarkTime(10.0, 1.93, 0.004))
    report = report_with(sprint=SprintReport(0.1, 0.01, "first_movement", marks))
    assert say_moment(report, at_s=1.5) == ("5 m at 1.210 ± 0.004 s",)
    assert len(say_moment(report, at_s=2)) == 2


def test_landings_from_the_front_say_the_knees_way():
    landing = LandingReport(
        frontal_knee_angle_deg={"left": 8.0}, frontal_knee_angle_sigma_deg={"left": 3.0},
        deepest_s=0.6,
    )  # fmt: skip
    assert say_landing(landing, at_s=0.6) == "knee inward L 8 ± 3°"
    assert say_landing(landing, at_s=0.5) is None


@pytest.mark.parametrize(
    ("value", "sigma", "per_unit", "expected"),
    [(0.3119, 0.0031, 100, "31.2 ± 0.3"), (0.5044, 0.0026, 1000, "504 ± 3"),
     (30.4, 4.2, 1, "30 ± 4"), (1.5, None, 1, "1.50")],
)  # fmt: skip
def test_decimals_follow_the_doubt(value, sigma, per_unit, expected):
    assert show(value, sigma, per_unit=per_unit) == expected


def test_progress_ends_at_the_whole(clip_path, tmp_path):
    told = []
    annotate_clip(
        analysis_of(clip_path), tmp_path / "out.mp4",
        progress=lambda step, part: told.append((step, part)),
    )  # fmt: skip
    assert told[-1] == ("annotate", 1.0)
    assert {step for step, _ in told} == {"annotate"}


def test_another_clip_under_the_same_name_is_refused(tmp_path):
    path = write_film(tmp_path / "a.mp4", moving_square(12), ticks=even_ticks(12, 60))
    analysis = analysis_of(path, jumps=(), contacts=())
    write_film(path, moving_square(13), ticks=even_ticks(13, 60))
    with pytest.raises(UnreadableClip, match="no longer"):
        annotate_clip(analysis, tmp_path / "out.mp4")
    assert not (tmp_path / "out.mp4").exists()


def test_no_folder_no_film(clip_path, tmp_path):
    with pytest.raises(OutputFailed):
        annotate_clip(analysis_of(clip_path), tmp_path / "none" / "out.mp4")
    with pytest.raises(OutputFailed):
        write_stills(analysis_of(clip_path), tmp_path / "none")


def test_a_scale_makes_centimetres_of_the_curve(clip_path):
    from measure.io.annotate import _tell

    assert _tell(analysis_of(clip_path)).hip.unit == "pixels"
    scaled = analysis_of(clip_path, scale=Scale(0.005, 0.0001, "stature"))
    assert _tell(scaled).hip.unit == "cm"


def report_with(**report):
    facts = ClipFacts("0", WIDTH_PX, HEIGHT_PX, COUNT, 0.8, 0)
    told = {"time_base": TimeBase("as_filed", 60.0, 1.0, ()), **report}
    return Report(facts, versions=Versions("0", "none", "0"), **told)
