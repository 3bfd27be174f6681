"""Pictures: upright, in the right colours, in the right place, whichever way they are cut."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from measure.io.read import open_clip
from tests.clip_files import (
    coloured_noise,
    even_ticks,
    moving_square,
    set_rotation,
    square_centre_px,
    write_film,
)

CENTRE_FROM_STORED = {
    0: lambda x, y: (x, y),
    90: lambda x, y: (240 - y, x),
    180: lambda x, y: (320 - x, 240 - y),
    270: lambda x, y: (y, 320 - x),
}
"""Where a clockwise turn takes a point of the stored 320x240 picture, in edge-based pixels."""

FORMS = [
    {},
    {"matrix": "ITU709"},
    {"matrix": "ITU601", "full_range": True},
    {"pixel_format": "yuv422p"},
    {"pixel_format": "yuv444p"},
    {"codec": "libx265", "pixel_format": "yuv420p"},
    {"codec": "libx265", "pixel_format": "yuv420p10le", "matrix": "ITU709"},
    {"pixel_format": "yuv422p10le"},
]


def first_frame(path):
    with open_clip(path) as clip:
        return next(clip.frames())


def film(folder, pictures=None, rotation_deg=0, **form):
    path = folder / "film.mp4"
    write_film(path, pictures or moving_square(2), ticks=even_ticks(2, 30), **form)
    return set_rotation(path, rotation_deg)


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_pictures_stand_upright(tmp_path, rotation_deg):
    frame = first_frame(film(tmp_path, rotation_deg=rotation_deg))
    rgb = frame.rgb()
    assert rgb.shape == (frame.height_px, frame.width_px, 3)
    expected = CENTRE_FROM_STORED[rotation_deg](24, 76)
    assert square_centre_px(rgb) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("rotation_deg", [0, 90])
def test_a_part_has_the_colours_of_the_whole(tmp_path, form, rotation_deg):
    pictures = coloured_noise(2, width=320, height=240)
    frame = first_frame(film(tmp_path, pictures, rotation_deg, **form))
    whole, random = frame.rgb(), np.random.default_rng(1)
    for _ in range(25):
        left, right = sorted(random.integers(-20, frame.width_px + 20, 2))
        top, bottom = sorted(random.integers(-20, frame.height_px + 20, 2))
        expected = whole[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)]
        if expected.size:
            np.testing.assert_array_equal(frame.rgb_box(left, top, right, bottom), expected)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_a_kept_part_gives_the_bits_of_the_whole(tmp_path, form, rotation_deg):
    pictures = coloured_noise(2, width=320, height=240)
    frame = first_frame(film(tmp_path, pictures, rotation_deg, **form))
    part = frame.part(31, 53, 205, 500)
    assert part.index == frame.index
    assert part.size_bytes < 0.8 * 4 * frame.width_px * frame.height_px
    random = np.random.default_rng(3)
    for _ in range(15):
        left, right = sorted(random.choice(np.arange(31, 206), 2, replace=False))
        top, bottom = sorted(random.choice(np.arange(53, frame.height_px + 9), 2, replace=False))
        assert part.holds(left, top, right, bottom)
        np.testing.assert_array_equal(
            part.rgb_box(left, top, right, bottom), frame.rgb_box(left, top, right, bottom)
        )


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_a_kept_part_of_an_odd_picture_reaches_its_corner(tmp_path, rotation_deg):
    noise = coloured_noise(2, width=321, height=241)
    frame = first_frame(film(tmp_path, noise, rotation_deg, pixel_format="yuv444p"))
    part = frame.part(150, 100, 999, 999)
    np.testing.assert_array_equal(
        part.rgb_box(151, 103, 999, 999), frame.rgb_box(151, 103, 999, 999)
    )


def test_what_was_not_kept_is_a_wrong_call(tmp_path):
    part = first_frame(film(tmp_path)).part(40, 60, 200, 160)
    assert not part.holds(38, 60, 200, 160)
    assert not part.holds(40, 60, 200, 163)
    with pytest.raises(ValueError, match="40, 60, 200, 160"):
        part.rgb_box(30, 60, 200, 160)


@pytest.mark.parametrize("form", FORMS)
def test_colours_are_those_that_were_filmed(tmp_path, form):
    random = np.random.default_rng(2)
    tiles = random.integers(30, 226, (4, 5, 3)).astype(np.uint8)
    picture = np.kron(tiles, np.ones((60, 64, 1), np.uint8))
    rgb = first_frame(film(tmp_path, [picture, picture], **form)).rgb()
    middles = rgb[30::60, 32::64].astype(int)
    assert np.abs(middles - tiles).max() <= 6  # compression and rounding of three steps


def test_eight_bit_colours_equal_a_plain_conversion_of_the_whole(tmp_path):
    pictures = coloured_noise(2, width=320, height=240)
    frame = first_frame(film(tmp_path, pictures, matrix="ITU709"))
    np.testing.assert_array_equal(frame.rgb(), frame.picture.to_ndarray(format="rgb24"))


@pytest.mark.parametrize("form", [{"pixel_format": "yuv444p"}, {"codec": "libvpx-vp9"}])
@pytest.mark.parametrize("rotation_deg", [0, 90, 270])
def test_odd_sizes(tmp_path, form, rotation_deg):
    frame = first_frame(
        film(tmp_path, moving_square(2, width=321, height=241), rotation_deg, **form)
    )
    sizes = (321, 241) if rotation_deg == 0 else (241, 321)
    assert (frame.width_px, frame.height_px) == sizes
    whole = frame.rgb()
    assert whole.shape == (sizes[1], sizes[0], 3)
    x, y = {0: (24, 76), 90: (241 - 76, 24), 270: (76, 321 - 24)}[rotation_deg]
    assert square_centre_px(whole) == pytest.approx((x, y), abs=0.3)
    corner = frame.rgb_box(sizes[0] - 7, sizes[1] - 5, 999, 999)
    np.testing.assert_array_equal(corner, whole[-5:, -7:])


def test_a_picture_of_four_thousand_pixels(tmp_path):
    frame = first_frame(film(tmp_path, moving_square(2, width=3840, height=2160)))
    assert square_centre_px(frame.rgb_box(0, 500, 100, 620)) == pytest.approx((24, 56), abs=0.2)


def test_a_rectangle_outside_is_a_wrong_call(tmp_path):
    frame = first_frame(film(tmp_path))
    with pytest.raises(ValueError, match="320x240"):
        frame.rgb_box(320, 0, 330, 10)


# --- affine crops -----------------------------------------------------------------------------


@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_a_crop_puts_points_where_its_matrix_says(tmp_path, rotation_deg):
    frame = first_frame(film(tmp_path, rotation_deg=rotation_deg))
    x, y = CENTRE_FROM_STORED[rotation_deg](24, 76)
    angle = np.deg2rad(20)
    turn = 0.8 * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    # The square's centre is to land on (50.25, 60.75) of the crop.
    shift = np.array([x, y]) - turn @ [50.25, 60.75]
    crop = frame.warp(np.column_stack([turn, shift]), size_px=128)
    assert crop.shape == (128, 128, 3)
    assert square_centre_px(crop) == pytest.approx((50.25, 60.75), abs=0.1)


@pytest.mark.parametrize("scale", [0.53, 1.0, 1.97, 2.91])
def test_a_crop_of_a_slope_keeps_its_levels(tmp_path, scale):
    # Brightness 20 + x - 0.5 at edge-based x: ignoring the half pixel of the two conventions
    # would show as (scale - 1) / 2 levels.
    slope = np.repeat(20 + np.minimum(np.arange(320), 220)[None, :], 240, axis=0)
    picture = np.repeat(slope[..., None], 3, axis=2).astype(np.uint8)
    frame = first_frame(film(tmp_path, [picture, picture], full_range=True, matrix="ITU601"))
    crop = frame.warp(np.array([[scale, 0, 10.0], [0, scale, 30.0]]), size_px=60)
    expected = 20 + 10.0 + scale * (np.arange(60) + 0.5) - 0.5
    assert np.mean(crop[..., 1] - expected) == pytest.approx(0, abs=0.15)


@pytest.mark.parametrize("form", [{}, {"codec": "libx265", "pixel_format": "yuv420p10le"}])
@pytest.mark.parametrize("rotation_deg", [0, 90])
@pytest.mark.parametrize("corner", [(100, 80), (-60, -40), (200, 210), (-900, 50), (900, 900)])
def test_a_crop_equals_one_from_the_whole_picture(tmp_path, form, rotation_deg, corner):
    frame = first_frame(
        film(tmp_path, coloured_noise(2, width=320, height=240), rotation_deg, **form)
    )
    matrix = np.array([[0.9, 0.3, corner[0]], [-0.3, 0.9, corner[1]]], dtype=float)
    centred = matrix.copy()
    centred[:, 2] += matrix[:, :2] @ [0.5, 0.5] - 0.5
    expected = cv2.warpAffine(
        frame.rgb(), centred, (100, 100), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(int)  # fmt: skip
    # cv2 rounds positions to 1/32 pixel, and a turned map rounds elsewhere.
    crop = frame.warp(matrix, size_px=100)
    assert np.abs(crop - expected).mean() < 0.6
    assert np.abs(crop - expected).max() <= 16


# --- small grey pictures ------------------------------------------------------------------------


@pytest.mark.parametrize("form", [{}, {"codec": "libx265", "pixel_format": "yuv420p10le"}])
@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
@pytest.mark.parametrize("step", [1, 4, 7])
def test_small_grey_pictures_are_means_of_squares(tmp_path, form, rotation_deg, step):
    coarse = np.random.default_rng(4).integers(20, 236, (60, 80))
    grey = np.kron(coarse, np.ones((4, 4), int)).astype(np.uint8)
    picture = np.repeat(grey[..., None], 3, axis=2)
    frame = first_frame(film(tmp_path, [picture, picture], rotation_deg, **form))
    small = frame.grey_small(step)
    rows, columns = frame.height_px // step, frame.width_px // step
    assert small.shape == (rows, columns)
    luma = 16 + np.rot90(grey, -rotation_deg // 90).astype(float) * 219 / 255
    blocks = luma[: rows * step, : columns * step].reshape(rows, step, columns, step)
    error = small - blocks.mean(axis=(1, 3))
    assert np.mean(error) == pytest.approx(0, abs=0.6)
    assert np.mean(np.abs(error)) < 1.5  # compression


def test_a_step_larger_than_the_picture_is_a_wrong_call(tmp_path):
    with pytest.raises(ValueError, match="step"):
        first_frame(film(tmp_path)).grey_small(241)


def test_other_pixel_layouts_are_read_too(tmp_path):
    frame = first_frame(film(tmp_path))
    packed = replace(frame, picture=frame.picture.reformat(format="nv12"))
    assert np.abs(packed.rgb().astype(int) - frame.rgb()).max() <= 2
    assert np.abs(packed.grey_small(4).astype(int) - frame.grey_small(4)).max() <= 2
