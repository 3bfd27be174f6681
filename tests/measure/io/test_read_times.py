"""Timestamps and what a file says about itself: from the file, frame by frame."""

import itertools

import av
import numpy as np
import pytest

from measure.io.container import _picture_of_first_packet, first_picture, open_container
from measure.io.read import open_clip
from measure.io.stamps import read_stamp_facts
from tests.clip_files import (
    CLOCK_HZ,
    SQUARE_PX,
    add_capture_rate,
    drop_edits,
    even_ticks,
    moving_square,
    repeat_stamp,
    square_centre_px,
    square_left_px,
    timing_file,
    write_film,
)


def seen_squares(clip, **span):
    """Number of the drawn picture that each delivered frame shows, told by its square."""
    numbers = {square_left_px(k) + SQUARE_PX / 2: k for k in range(60)}
    found = {}
    for frame in clip.frames(**span):
        x, _ = square_centre_px(frame.rgb())
        found[frame.index] = numbers[min(numbers, key=lambda centre: abs(centre - x))]
    return found


@pytest.mark.parametrize(
    ("letter", "rate_hz", "tag_hz", "edit_rate"),
    [
        ("a", 240, None, 1.0),
        ("b", 30, 240.0, 1.0),
        ("c", 240, 240.0, 1.0),
        ("d", 30, None, 1.0),
        ("e", 240, None, 1.0),
        ("f", 30, None, 0.5),
        ("g", 240, None, 1.0),
    ],
)
def test_timing_files_give_their_facts(tmp_path, letter, rate_hz, tag_hz, edit_rate):
    with open_clip(timing_file(tmp_path, letter)) as clip:
        times_s = [frame.file_time_s for frame in clip.frames()]
    assert 1 / clip.stamps.usual_interval_s == pytest.approx(rate_hz, rel=1e-9)
    assert clip.stream.capture_rate_tag_hz == tag_hz
    assert clip.stream.edit_rate == edit_rate
    assert clip.stamps.missing_frame_count == (1 if letter == "g" else 0)
    np.testing.assert_array_equal(times_s, clip.stamps.file_time_s)
    assert not clip.ended_early


def test_a_dropped_frame_leaves_the_other_times_exact(tmp_path):
    with open_clip(timing_file(tmp_path, "g")) as clip:
        seen = seen_squares(clip)
        times_s = clip.stamps.file_time_s
    # Pictures are numbered as captured: 20 is missing, the time of each is number / 240 exactly.
    captured = np.array([seen[index] for index in range(47)])
    assert 20 not in captured
    np.testing.assert_allclose(times_s, captured / 240, atol=1e-12)


def test_an_edit_list_that_starts_later_changes_no_interval(tmp_path):
    with open_clip(timing_file(tmp_path, "e")) as clip:
        seen = seen_squares(clip)
    assert clip.stamps.frame_count == 36
    assert seen == {index: index + 12 for index in range(36)}
    np.testing.assert_allclose(clip.stamps.file_time_s, np.arange(36) / 240, atol=1e-12)


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
@pytest.mark.parametrize("b_frames", [0, 3])
@pytest.mark.parametrize("with_edits", [True, False])
def test_reordered_frames_come_in_the_order_shown(tmp_path, codec, b_frames, with_edits):
    path = write_film(
        tmp_path / "film.mp4", moving_square(60), ticks=even_ticks(60, 60), codec=codec,
        b_frames=b_frames,
    )  # fmt: skip
    if not with_edits:
        drop_edits(path)
    with open_clip(path) as clip:
        assert seen_squares(clip) == {index: index for index in range(60)}
    np.testing.assert_allclose(clip.stamps.file_time_s, np.arange(60) / 60, atol=1e-12)


@pytest.mark.parametrize("b_frames", [0, 3])
def test_a_part_of_the_clip_has_the_same_numbers_and_times(tmp_path, b_frames):
    pictures = itertools.chain.from_iterable(itertools.repeat(list(moving_square(60)), 5))
    path = write_film(tmp_path / "film.mp4", pictures, ticks=even_ticks(300, 60), b_frames=b_frames)
    with open_clip(path) as clip:
        seen = seen_squares(clip, from_s=4.2, until_s=4.3)
        times_s = [frame.file_time_s for frame in clip.frames(from_s=4.2, until_s=4.3)]
        wanted = seen_squares(clip, wanted=[7, 100, 298])
        assert list(clip.frames(from_s=5.5)) == []
        assert list(clip.frames(wanted=[])) == []
    assert seen == {index: index % 60 for index in range(252, 259)}
    np.testing.assert_allclose(times_s, np.arange(252, 259) / 60, atol=1e-12)
    assert wanted == {7: 7, 100: 40, 298: 58}
    assert not clip.ended_early


@pytest.mark.parametrize(
    ("codec", "encoder"),
    [
        ("libx264", {"x264-params": "open-gop=1:keyint=25:min-keyint=25:scenecut=0"}),
        ("libx265", {"x265-params": "log-level=none:open-gop=1:keyint=25:min-keyint=25:bframes=4"}),
    ],
)
def test_the_film_may_be_entered_anywhere(tmp_path, codec, encoder):
    # Pictures that lead an open group's key frame can't be decoded from that key frame.
    path = write_film(
        tmp_path / "film.mp4", [*moving_square(60)] * 3, ticks=even_ticks(180, 60), codec=codec,
        b_frames=3, encoder=encoder,
    )  # fmt: skip
    with open_clip(path) as clip:
        for number in range(61, 180, 2):
            assert seen_squares(clip, wanted=[number]) == {number: number % 60}


def test_variable_intervals_are_kept(tmp_path):
    steps = np.random.default_rng(3).integers(1200, 1800, 59)
    ticks = [0, *np.cumsum(steps).tolist()]
    path = write_film(tmp_path / "film.mp4", moving_square(60), ticks=ticks, b_frames=2)
    with open_clip(path) as clip:
        times_s = [frame.file_time_s for frame in clip.frames()]
    np.testing.assert_allclose(times_s, np.array(ticks) / CLOCK_HZ, atol=1e-12)
    assert not clip.stamps.constant_rate
    assert clip.stamps.missing_frame_count == 0


def test_a_repeated_timestamp_gives_one_frame(tmp_path):
    ticks = [0, 3001, 6003, *range(9003, 60_003, 3000)]
    path = write_film(tmp_path / "film.mp4", moving_square(len(ticks)), ticks=ticks)
    with open_clip(repeat_stamp(path)) as clip:
        times_s = [frame.file_time_s for frame in clip.frames()]
    assert clip.stamps.repeated_stamp_count == 1
    assert clip.stamps.frame_count == len(ticks) - 1
    np.testing.assert_array_equal(times_s, clip.stamps.file_time_s)
    assert np.all(np.diff(times_s) > 0)


def test_the_capture_rate_is_read_as_phones_write_it(tmp_path):
    path = write_film(tmp_path / "film.mp4", moving_square(4), ticks=even_ticks(4, 30))
    add_capture_rate(path, 239.76)
    with open_clip(path) as clip:
        assert clip.stream.capture_rate_tag_hz == pytest.approx(239.76, abs=1e-4)


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({"creation_time": "2024-05-01T10:11:12.000000Z"}, "2024-05-01T10:11:12+00:00"),
        (
            {
                "com.apple.quicktime.creationdate": "2024-05-01T12:11:12+0200",
                "creation_time": "2024-06-09T08:00:00.000000Z",
            },
            "2024-05-01T10:11:12+00:00",
        ),
        ({"creation_time": "1970-01-01T00:00:00.000000Z"}, None),
        ({"com.apple.quicktime.creationdate": "yesterday"}, None),
        ({}, None),
    ],
)
def test_the_day_of_recording_is_utc(tmp_path, tags, expected):
    path = write_film(tmp_path / "f.mp4", moving_square(4), ticks=even_ticks(4, 30), tags=tags)
    with open_clip(path) as clip:
        assert clip.stream.recorded_at == expected


def test_other_facts_of_a_file(tmp_path):
    tags = {"com.apple.quicktime.full-frame-rate-playback-intent": "0"}
    path = write_film(tmp_path / "film.mp4", moving_square(30), ticks=even_ticks(30, 60), tags=tags)
    with open_clip(path) as clip:
        stream = clip.stream
    assert (stream.width_px, stream.height_px, stream.rotation_deg) == (320, 240, 0)
    assert stream.codec == "h264"
    assert stream.playback_intent == 0
    assert stream.nominal_rate_hz == pytest.approx(60)
    assert stream.declared_duration_s == pytest.approx(0.5, abs=0.02)
    assert stream.pixel_aspect == 1.0
    assert len(stream.sha256) == 64


def test_the_same_bytes_have_the_same_hash(tmp_path):
    path = write_film(tmp_path / "a.mp4", moving_square(4), ticks=even_ticks(4, 30))
    again = tmp_path / "b:name with a colon.mp4"
    again.write_bytes(path.read_bytes())
    assert open_clip(path).stream.sha256 == open_clip(again).stream.sha256


# --- stamps alone -----------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [24, 29.97, 30, 59.94, 60, 119.88, 120, 239.76, 240])
@pytest.mark.parametrize("clock_hz", [600, 1000, 90_000])
def test_a_coarse_clock_does_not_hide_the_rate(rate_hz, clock_hz):
    ticks = np.rint(np.arange(600) * clock_hz / rate_hz).astype(np.int64)
    facts = read_stamp_facts(ticks, tick_s=1 / clock_hz)
    assert facts.constant_rate
    assert 1 / facts.usual_interval_s == pytest.approx(rate_hz, rel=2e-3)
    assert facts.missing_frame_count == 0


@pytest.mark.parametrize("clock_hz", [600, 90_000])
@pytest.mark.parametrize("rate_hz", [30, 60, 240])
def test_missing_frames_of_a_constant_rate_are_counted(rate_hz, clock_hz):
    numbers = np.delete(np.arange(400), [17, 50, 51, 52, 300])
    ticks = np.rint(numbers * clock_hz / rate_hz).astype(np.int64)
    facts = read_stamp_facts(ticks, tick_s=1 / clock_hz)
    assert facts.missing_frame_count == 5
    np.testing.assert_allclose(facts.file_time_s, numbers / rate_hz, atol=0.51 / clock_hz)


def test_gaps_in_uneven_stamps_count_only_where_they_tower():
    random = np.random.default_rng(5)
    intervals = random.uniform(0.8, 1.2, 200)
    intervals[[30, 90, 150]] = [2.1, 3.0, 1.9]
    ticks = np.rint(np.concatenate([[0], np.cumsum(intervals)]) * 1500).astype(np.int64)
    facts = read_stamp_facts(ticks, tick_s=1 / 90_000)
    assert not facts.constant_rate
    assert facts.missing_frame_count == 1 + 2 + 1


def test_stamps_of_any_length_are_taken_even_as_few_as_two():
    for count in range(2, 9):
        facts = read_stamp_facts(np.arange(count) * 3003, tick_s=1 / 90_000)
        assert facts.frame_count == count
        assert facts.missing_frame_count == 0
        assert facts.median_interval_s == pytest.approx(3003 / 90_000)


def test_one_stamp_is_a_wrong_call():
    with pytest.raises(ValueError, match="at least 2"):
        read_stamp_facts(np.array([7, 7]), tick_s=0.1)


def test_the_first_picture_is_asked_for_alone(tmp_path):
    path = write_film(
        tmp_path / "held_back.mp4", moving_square(12), ticks=even_ticks(12, 30), b_frames=2
    )
    with open_container(path) as container:
        picture = _picture_of_first_packet(container)
    with av.open(str(path)) as container:
        expected = next(container.decode(video=0))
    np.testing.assert_array_equal(
        picture.to_ndarray(format="rgb24"), expected.to_ndarray(format="rgb24")
    )


def test_a_first_picture_that_is_not_shown_gives_way_to_the_next(tmp_path):
    path = timing_file(tmp_path, "e")
    with open_container(path) as container:
        assert _picture_of_first_packet(container) is None
    with open_container(path) as container:
        assert first_picture(container, path).width > 0
