"""Films and pictures written out: playable anywhere, whole or not at all."""

import resource
import subprocess
import sys
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from measure.errors import OutputFailed
from measure.io.read import open_clip
from measure.io.write import write_clip, write_picture
from tests.clip_files import find_box, moving_square, square_centre_px, square_left_px

TIMES_S = [0.0, 1 / 60, 3 / 60, 0.06, 0.1, 0.5, 0.51, 0.52]


def test_a_film_comes_back_with_its_times_and_places(tmp_path):
    path = tmp_path / "out.mp4"
    write_clip(path, moving_square(8), times_s=[5 + time_s for time_s in TIMES_S])
    with open_clip(path) as clip:
        frames = list(clip.frames())
        assert clip.stream.codec == "h264"
        assert not clip.ended_early
        assert [frame.picture.format.name for frame in frames] == ["yuv420p"] * 8
        np.testing.assert_allclose([f.file_time_s for f in frames], TIMES_S, atol=1 / 90_000)
        centres = [square_centre_px(frame.rgb())[0] for frame in frames]
    assert centres == pytest.approx([square_left_px(k) + 16 for k in range(8)], abs=0.2)


def test_colours_survive(tmp_path):
    tiles = np.random.default_rng(1).integers(30, 226, (4, 5, 3)).astype(np.uint8)
    picture = np.kron(tiles, np.ones((64, 64, 1), np.uint8))
    write_clip(tmp_path / "out.mp4", [picture] * 3, times_s=[0, 0.1, 0.2])
    with open_clip(tmp_path / "out.mp4") as clip:
        frame = next(clip.frames())
    assert (frame.picture.colorspace, frame.picture.color_range) == (1, 1)  # BT.709, limited
    assert np.abs(frame.rgb()[32::64, 32::64].astype(int) - tiles).max() <= 8


def test_a_browser_can_start_before_all_is_loaded(tmp_path):
    path = tmp_path / "out.mp4"
    write_clip(path, moving_square(8), times_s=TIMES_S)
    data = path.read_bytes()
    assert find_box(data, "moov")[0] < find_box(data, "mdat")[0]
    with av.open(str(path)) as container:
        assert container.streams.video[0].start_time == 0
        assert container.streams.video[0].codec_context.has_b_frames is False


def test_odd_sizes_are_padded(tmp_path):
    write_clip(tmp_path / "out.mp4", moving_square(3, width=321, height=241), times_s=[0, 0.1, 0.2])
    with open_clip(tmp_path / "out.mp4") as clip:
        assert (clip.stream.width_px, clip.stream.height_px) == (322, 242)
        assert square_centre_px(next(clip.frames()).rgb()) == pytest.approx((24, 76), abs=0.2)


@pytest.mark.parametrize("times_s", [[0, 0.1], [0, 0.1, 0.2, 0.3], [0, 0.2, 0.2], [0, 0.1, np.nan]])
def test_times_that_do_not_fit_are_a_wrong_call_and_leave_nothing(tmp_path, times_s):
    with pytest.raises(ValueError, match="times_s: expected"):
        write_clip(tmp_path / "out.mp4", moving_square(3), times_s=times_s)
    assert list(tmp_path.iterdir()) == []


def test_no_frames_is_a_wrong_call(tmp_path):
    with pytest.raises(ValueError, match="at least 1"):
        write_clip(tmp_path / "out.mp4", [], times_s=[])
    assert list(tmp_path.iterdir()) == []


def breaking_off():
    yield from moving_square(3)
    raise RuntimeError("the pictures ended")


def test_what_breaks_off_leaves_the_old_file_as_it_was(tmp_path):
    path = tmp_path / "out.mp4"
    path.write_bytes(b"an older film")
    with pytest.raises(RuntimeError, match="the pictures ended"):
        write_clip(path, breaking_off(), times_s=TIMES_S)
    assert path.read_bytes() == b"an older film"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("ending", [".png", ".jpg", ".JPEG"])
def test_a_picture_comes_back(tmp_path, ending):
    rgb = next(moving_square(1))
    path = tmp_path / f"picture{ending}"
    write_picture(path, rgb)
    found = cv2.imread(str(path))[:, :, ::-1]
    assert np.abs(found.astype(int) - rgb).mean() < (0.01 if ending == ".png" else 3)
    assert list(tmp_path.iterdir()) == [path]


def test_another_ending_is_a_wrong_call(tmp_path):
    with pytest.raises(ValueError, match=r"\.png"):
        write_picture(tmp_path / "picture.gif", next(moving_square(1)))


def test_a_folder_that_is_missing(tmp_path):
    with pytest.raises(OutputFailed, match="folder that exists"):
        write_picture(tmp_path / "none" / "a.png", next(moving_square(1)))
    with pytest.raises(OutputFailed, match="folder that exists"):
        write_clip(tmp_path / "none" / "a.mp4", moving_square(8), times_s=TIMES_S)


def test_a_name_that_is_a_folder(tmp_path):
    (tmp_path / "a.mp4").mkdir()
    with pytest.raises(OutputFailed):
        write_clip(tmp_path / "a.mp4", moving_square(8), times_s=TIMES_S)
    assert list(tmp_path.iterdir()) == [tmp_path / "a.mp4"]


FULL_DISK = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from measure.errors import OutputFailed
from measure.io.write import write_clip, write_picture
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
noise = np.random.default_rng(1).integers(0, 256, (240, 320, 3)).astype(np.uint8)
refused = 0
for write in (
    lambda: write_clip(Path("a.mp4"), [noise] * 20, times_s=np.arange(20) / 30),
    lambda: write_picture(Path("a.png"), noise),
):
    try:
        write()
    except OutputFailed as error:
        refused += "could not be written" in str(error)
print(refused)
"""


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="needs a limit on file size")
def test_a_disk_without_room_leaves_nothing(tmp_path):
    root = str(Path(__file__).parents[3])
    run = subprocess.run(
        [sys.executable, "-c", FULL_DISK], cwd=tmp_path, env={"PYTHONPATH": root},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert run.stdout.strip() == "2"
    assert list(tmp_path.iterdir()) == []
