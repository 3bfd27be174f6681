from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calibration.clock_evidence import ClockEvidence
from calibration.repeats import Repeats, find_repeats
from calibration.time_base import fit_time_base
from measure.io.changes import measure_changes
from measure.io.read import open_clip
from tests.clip_files import even_ticks, moving_square, write_film


def moving_changes(count: int, *, seed: int = 1, still: slice = slice(0, 0)) -> np.ndarray:
    """Change from each captured picture to the next: a jump's motion with a camera's noise."""
    random = np.random.default_rng(seed)
    motion = 12 + 8 * np.sin(np.arange(count) / 9) + random.normal(0, 1.0, count)
    motion[still] = 0.0
    return np.maximum(motion, 0.0) + random.uniform(0.8, 1.2, count)


def shown(changes: np.ndarray, times: list[int], *, left_over: float = 0.1) -> Repeats:
    """Show picture k ``times[k]`` times at 30 per second; repeats change by what coding leaves."""
    levels: list[float] = []
    for change, showings in zip(changes, times, strict=True):
        levels += [left_over] * (showings - 1) + [float(change)]
    return find_repeats(np.arange(len(levels) + 1) / 30, motion_level=np.array(levels))


@pytest.mark.parametrize("showings", [1, 2, 3, 4])
@pytest.mark.parametrize("left_over", [0.0, 0.8])
def test_every_picture_shown_equally_often(showings: int, left_over: float) -> None:
    found = shown(moving_changes(90), [showings] * 90, left_over=left_over)
    assert found.showings == showings
    assert found.regular
    assert not found.mixed
    assert found.share == pytest.approx(1 - 1 / showings, abs=0.03)
    assert found.interval_file_s == pytest.approx(showings / 30)


def test_film_rate_padded_to_thirty_is_irregular() -> None:
    found = shown(moving_changes(120), [1, 1, 1, 2] * 30)
    assert found.showings == pytest.approx(1.25, abs=0.04)
    assert not found.regular
    assert not found.mixed


@pytest.mark.parametrize("showings", [2, 3, 4])
def test_a_section_slowed_by_repeats_is_told_from_the_rest(showings: int) -> None:
    times = [1] * 50 + [showings] * 40 + [1] * 50
    found = shown(moving_changes(140), times)
    assert found.mixed
    assert [round(section.showings) for section in found.sections] == [1, showings, 1]
    assert found.sections[1].start_file_s == pytest.approx(50 / 30, abs=0.1)
    assert found.sections[1].end_file_s == pytest.approx((50 + 40 * showings) / 30, abs=0.1)


def test_an_athlete_who_sets_off_at_once_from_standing_still_repeats_no_picture() -> None:
    """The last pictures of standing have as little before them as between them."""
    still = [1.2, 1.2, 1.3, 1.2, 1.2, 1.2, 0.7, 0.6, 0.6, 0.6, 0.4, 0.3]
    changes = np.array([*still, 38.0, 24.0, 24.0, 23.0, 24.0, 23.0, 25.0, 25.0, 23.0, *[30.0] * 40])
    found = find_repeats(np.arange(changes.size + 1) / 30, motion_level=changes)
    assert not found.repeated.any()
    assert not found.mixed


@pytest.mark.parametrize("still", [1, 3, 5, 6])
@pytest.mark.parametrize("at_the_end", [False, True])
def test_a_clip_cut_close_to_the_movement_repeats_no_picture(
    still: int, *, at_the_end: bool
) -> None:
    rising = np.concatenate([np.full(still, 0.4), [3.0], np.linspace(10, 30, 60)])
    levels = rising[::-1] if at_the_end else rising
    found = find_repeats(np.arange(levels.size + 1) / 30, motion_level=levels)
    assert not found.repeated.any()
    assert not found.mixed


@pytest.mark.parametrize("lowest", [0.2, 0.5, 0.8])
def test_a_movement_that_turns_round_repeats_no_picture(lowest: float) -> None:
    """A dip, a push-off and the top of a flight at 30/s: slower over two or three pictures."""
    seconds = np.arange(60) / 30 + lowest / 30
    levels = 2.0 + 26 * np.abs(np.sin(2 * np.pi * seconds / 0.9))
    found = find_repeats(np.arange(levels.size + 1) / 30, motion_level=levels)
    assert not found.repeated.any()


def test_an_athlete_who_stands_still_is_no_repeat() -> None:
    found = shown(moving_changes(200, still=slice(60, 140)), [1] * 200)
    assert found.share < 0.03
    assert not found.mixed
    # Compression copies a still picture to the last bit.
    copied = moving_changes(200)
    copied[60:140] = 0.0
    assert shown(copied, [1] * 200).share < 0.03


def test_two_pictures_say_nothing() -> None:
    found = find_repeats(np.array([0.0, 0.1]), motion_level=np.array([3.0]))
    assert (found.share, found.showings, found.mixed) == (0.0, 1.0, False)


def test_wrong_calls_are_named() -> None:
    with pytest.raises(ValueError, match="motion_level"):
        find_repeats(np.arange(5.0), motion_level=np.zeros(5))


# --- the same through a real file ---


def repeats_in(path: Path) -> Repeats:
    with open_clip(path) as clip:
        changes = measure_changes((frame.grey_small(2) for frame in clip.frames()), block=8)
        return find_repeats(clip.stamps.file_time_s, motion_level=changes.motion_level)


@pytest.mark.parametrize("showings", [1, 2, 3])
def test_repeats_survive_coding(tmp_path: Path, showings: int) -> None:
    pictures = [picture for picture in moving_square(60) for _ in range(showings)]
    path = write_film(
        tmp_path / "repeats.mp4", pictures, ticks=even_ticks(len(pictures), 30),
        encoder={"crf": "28"},
    )  # fmt: skip
    found = repeats_in(path)
    assert found.showings == showings
    assert found.regular


def test_a_file_with_slow_sections_baked_in_is_refused(tmp_path: Path) -> None:
    times = [1] * 30 + [4] * 20 + [1] * 30
    pictures = [
        picture for picture, n in zip(moving_square(80), times, strict=True) for _ in range(n)
    ]
    path = write_film(tmp_path / "baked.mp4", pictures, ticks=even_ticks(len(pictures), 30))
    with open_clip(path) as clip:
        stamps_file_s = clip.stamps.file_time_s
    base = fit_time_base(stamps_file_s, evidence=ClockEvidence(repeats=repeats_in(path)))
    assert base.status == "refused"


@pytest.mark.parametrize(
    ("filed_hz", "tag", "factor"),
    [(240, None, 1.0), (30, "240.0", 8.0), (240, "240.0", 1.0)],
)
def test_note_and_stamps_of_a_file(
    tmp_path: Path, filed_hz: int, tag: str | None, factor: float
) -> None:
    tags = {} if tag is None else {"com.android.capture.fps": tag}
    path = write_film(
        tmp_path / "note.mp4", moving_square(60), ticks=even_ticks(60, filed_hz), tags=tags
    )
    with open_clip(path) as clip:
        base = fit_time_base(
            clip.stamps.file_time_s,
            evidence=ClockEvidence(capture_rate_tag_hz=clip.stream.capture_rate_tag_hz),
        )
    assert base.file_s_per_s == factor
    assert base.capture_rate_hz == pytest.approx(240.0, rel=1e-3)
