"""What is no film, or only part of one, is refused with a sentence and a remedy."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from measure.errors import UnreadableClip
from measure.io.read import open_clip
from tests.clip_files import (
    coloured_noise,
    even_ticks,
    moving_square,
    set_rotation,
    write_film,
    write_sound,
)


def refusal(path):
    with pytest.raises(UnreadableClip) as caught:
        open_clip(path)
    error = caught.value
    assert error.seen.endswith(".")
    assert error.remedy.endswith(".")
    return error


def noisy_film(folder, **form):
    pictures = coloured_noise(60, width=160, height=120)
    return write_film(
        folder / "whole.mp4", pictures, ticks=even_ticks(60, 60), fast_start=True, **form
    )


def test_no_file(tmp_path):
    assert "no file" in refusal(tmp_path / "none.mp4").seen


def test_a_folder(tmp_path):
    assert "folder" in refusal(tmp_path).seen


def test_zero_bytes(tmp_path):
    path = tmp_path / "empty.mp4"
    path.touch()
    assert "empty" in refusal(path).seen


@pytest.mark.parametrize(
    "contents",
    [
        b"Monday: 3 x 5 jumps, rest three minutes.\n" * 100,
        bytes(5000),
        b"\x00\x00\x00\x20ftypisom" + bytes(range(256)) * 20,
        b"#EXTM3U\n#EXTINF:10,\nother.mp4\n",
        b"ffconcat version 1.0\nfile other.mp4\n",
    ],
)
def test_not_a_film(tmp_path, contents):
    # A play list must not make the reader open the film beside it.
    write_film(tmp_path / "other.mp4", moving_square(4), ticks=even_ticks(4, 30))
    path = tmp_path / "diary.mp4"
    path.write_bytes(contents)
    assert "not a video" in refusal(path).seen


def test_sound_only(tmp_path):
    assert "sound but no picture" in refusal(write_sound(tmp_path / "sound.mp4")).seen


def test_a_single_frame(tmp_path):
    path = write_film(tmp_path / "one.mp4", moving_square(1), ticks=[0])
    assert "single picture, not a film" in refusal(path).seen


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_a_mirrored_film(tmp_path, rotation_deg):
    path = write_film(tmp_path / "selfie.mp4", moving_square(4), ticks=even_ticks(4, 30))
    set_rotation(path, rotation_deg, mirrored=True)
    assert "mirrored" in refusal(path).seen


def test_an_index_that_never_came(tmp_path):
    path = write_film(tmp_path / "film.mp4", moving_square(20), ticks=even_ticks(20, 30))
    path.write_bytes(path.read_bytes()[:-300])
    assert "end is missing" in refusal(path).seen


def test_cut_off_in_the_first_picture(tmp_path):
    path = noisy_film(tmp_path)
    path.write_bytes(path.read_bytes()[:3000])
    assert "cut off" in refusal(path).seen


@pytest.mark.parametrize("b_frames", [0, 3])
@pytest.mark.parametrize("share", [0.3, 0.9, 0.999])
def test_cut_off_on_the_way_delivers_what_decodes_and_says_so(tmp_path, share, b_frames):
    path = noisy_film(tmp_path, b_frames=b_frames)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with open_clip(path) as clip:
        known_at_once = clip.ended_early
        times_s = [frame.file_time_s for frame in clip.frames()]
    assert known_at_once
    assert 60 * share * 0.8 < len(times_s) < 60
    assert np.all(np.diff(times_s) > 0)


def test_an_end_overwritten_with_zeros_shows_while_decoding(tmp_path):
    path = noisy_film(tmp_path)
    whole = path.read_bytes()
    half = len(whole) // 2
    path.write_bytes(whole[:half] + bytes(len(whole) - half))
    with open_clip(path) as clip:
        delivered = len(list(clip.frames()))
        assert clip.ended_early
        assert clip.damaged_count > 0
        assert 20 < delivered < 40
        with pytest.raises(UnreadableClip, match="No picture"):
            list(clip.frames(from_s=0.9))


def test_a_whole_film_is_not_called_damaged(tmp_path):
    with open_clip(noisy_film(tmp_path, b_frames=3)) as clip:
        assert len(list(clip.frames())) == 60
        assert not clip.ended_early
        assert clip.damaged_count == 0


def test_a_file_that_grows_while_it_is_read(tmp_path):
    path = noisy_film(tmp_path)
    with open_clip(path) as clip:
        frames = clip.frames()
        next(frames)
        with path.open("ab") as file:
            file.write(b"more")
        with pytest.raises(UnreadableClip, match="still being written"):
            list(frames)


def test_a_file_that_vanishes_while_it_is_read(tmp_path):
    path = noisy_film(tmp_path)
    with open_clip(path) as clip:
        frames = clip.frames()
        next(frames)
        path.unlink()
        with pytest.raises(UnreadableClip, match="changed"):
            list(frames)


def open_files():
    here = Path("/proc/self/fd")
    names = [os.readlink(here / name) for name in os.listdir(here) if (here / name).exists()]
    return [name for name in names if name.endswith((".mp4", ".mov"))]


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs /proc")
def test_no_file_stays_open(tmp_path):
    path = noisy_film(tmp_path)
    with open_clip(path) as clip:
        unfinished = clip.frames()
        next(unfinished)
        assert len(open_files()) == 1
        list(clip.frames())
        assert len(open_files()) == 1
    assert open_files() == []
    assert list(unfinished) == []


PEAK = """
import resource, sys
from pathlib import Path
from measure.io.read import open_clip
with open_clip(Path(sys.argv[1])) as clip:
    count = sum(frame.grey_small(8).size > 0 for frame in clip.frames())
print(count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_memory_does_not_grow_with_length(tmp_path):
    peaks_kib = {}
    for count in (60, 400):
        path = write_film(
            tmp_path / f"{count}.mp4", moving_square(count, width=640, height=480),
            ticks=even_ticks(count, 240),
        )  # fmt: skip
        run = subprocess.run(
            [sys.executable, "-c", PEAK, str(path)], capture_output=True, text=True, check=True
        )
        frames, peak_kib = map(int, run.stdout.split())
        assert frames == count
        peaks_kib[count] = peak_kib
    # 340 more pictures of 460 kB would be 157 MB.
    assert peaks_kib[400] - peaks_kib[60] < 20_000
