"""What stands on a picture: skeleton, feet, words; on tiny pictures."""

import numpy as np
import pytest

from measure.io.draw import LEFT, RIGHT, draw_angle, draw_feet, draw_level, draw_line, draw_skeleton
from measure.io.lettering import draw_text, fit_capital_px, text_width_px
from measure.types import Landmark

GREEN = (20, 120, 30)


def meadow(width=120, height=160):
    return np.full((height, width, 3), GREEN, np.uint8)


def changed(picture):
    return np.any(picture != GREEN, axis=2)


def is_nearly(pixel, colour):
    return np.abs(pixel.astype(int) - colour).max() < 100


def unseen_body():
    return np.full((len(Landmark), 2), np.nan)


def standing_body():
    points = unseen_body()
    for side, x in (("LEFT", 40.0), ("RIGHT", 80.0)):
        for joint, y in (("SHOULDER", 20), ("ELBOW", 50), ("WRIST", 75), ("HIP", 70),
                         ("KNEE", 100), ("ANKLE", 130), ("HEEL", 133)):  # fmt: skip
            points[Landmark[f"{side}_{joint}"]] = x, y
        points[Landmark[f"{side}_TOE"]] = x - 12, 134
    return points


def test_a_line_lies_on_edge_based_pixels():
    picture = meadow()
    draw_line(picture, np.array([10.5, 20.5]), np.array([30.5, 20.5]), colour=LEFT)
    ink = np.abs(picture.astype(int) - GREEN).sum(axis=2)
    rows, columns = np.indices(ink.shape) + 0.5
    assert np.average(rows, weights=ink) == pytest.approx(20.5, abs=0.02)
    assert np.average(columns, weights=ink) == pytest.approx(20.5, abs=0.2)
    assert not changed(picture)[:, :8].any()


@pytest.mark.parametrize("end", [[np.nan, 5.0], [np.inf, 5.0]])
def test_nothing_is_drawn_to_an_unseen_point(end):
    picture = meadow()
    draw_line(picture, np.array([10.0, 20.0]), np.array(end), colour=LEFT)
    assert not changed(picture).any()


def test_lines_may_leave_the_picture():
    picture = meadow()
    draw_line(picture, np.array([-1e9, 20.5]), np.array([1e9, 20.5]), colour=LEFT)
    assert changed(picture)[20].all()


def test_a_body_that_is_not_seen_is_not_drawn():
    picture = meadow()
    draw_skeleton(picture, unseen_body(), np.ones(len(Landmark)))
    draw_feet(picture, unseen_body(), {"left": "ground", "right": "air"}, size_px=10)
    draw_angle(picture, *np.full((3, 2), np.nan), colour=LEFT)
    draw_level(picture, np.full(2, np.nan), size_px=10, text="deepest")
    assert not changed(picture).any()


def test_a_skeleton_lies_on_its_joints_and_nowhere_far_from_them():
    picture = meadow()
    draw_skeleton(picture, standing_body(), np.ones(len(Landmark)))
    assert is_nearly(picture[115, 40], LEFT)
    assert not is_nearly(picture[115, 40], RIGHT)
    assert is_nearly(picture[115, 80], RIGHT)
    rows, columns = np.nonzero(changed(picture))
    assert (rows.min(), rows.max()) == pytest.approx((20, 134), abs=5)
    assert (columns.min(), columns.max()) == pytest.approx((28, 80), abs=5)


def test_one_unseen_joint_takes_only_its_bones():
    points = standing_body()
    points[Landmark.LEFT_KNEE] = np.nan
    picture = meadow()
    draw_skeleton(picture, points, np.ones(len(Landmark)))
    assert not changed(picture)[80:125, 30:50].any()
    assert is_nearly(picture[115, 80], RIGHT)


def test_hardly_seen_limbs_are_thin():
    points = standing_body() * 6
    doubtful = np.ones(len(Landmark))
    doubtful[Landmark.LEFT_KNEE] = 0.2
    picture = meadow(720, 960)
    draw_skeleton(picture, points, doubtful)
    widths = changed(picture)[690, 220:260].sum(), changed(picture)[690, 460:500].sum()
    assert 0 < widths[0] < widths[1]


def test_ground_and_air_differ_in_shape_not_only_in_colour():
    shapes = {}
    for state in ("ground", "air"):
        picture = meadow()
        draw_feet(picture, standing_body(), {"left": state}, size_px=10)
        shapes[state] = changed(picture)[:, :50]
    assert (shapes["ground"] != shapes["air"]).sum() > 0.2 * shapes["ground"].sum()
    centre = np.argwhere(shapes["air"]).mean(axis=0).round().astype(int)
    assert not np.array_equal(shapes["ground"].any(axis=0), shapes["air"].any(axis=0))
    assert centre[0] > 134  # below the sole


def test_a_foot_of_unknown_state_has_no_mark():
    picture = meadow()
    draw_feet(picture, standing_body(), {"left": None, "right": None}, size_px=10)
    assert not changed(picture).any()


def test_marks_of_feet_that_hide_each_other_stay_apart():
    points = standing_body()
    for name in ("HEEL", "TOE"):
        points[Landmark[f"RIGHT_{name}"]] = points[Landmark[f"LEFT_{name}"]] - [0, 6]
    picture = meadow(160, 200)
    draw_feet(picture, points, {"left": "ground", "right": "ground"}, size_px=10)
    left_rows = np.nonzero((picture == LEFT).all(axis=2).any(axis=1))[0]
    right_rows = np.nonzero((picture == RIGHT).all(axis=2).any(axis=1))[0]
    assert left_rows.max() < right_rows.min()


def test_an_arc_stays_within_its_joint():
    picture = meadow()
    hip, knee, ankle = np.array([[60.0, 40], [60, 80], [100, 80]])
    draw_angle(picture, hip, knee, ankle, colour=LEFT)
    rows, columns = np.nonzero((picture == LEFT).all(axis=2))
    assert rows.size > 10
    assert rows.max() <= 82
    assert columns.min() >= 58  # the inside, not the way round


def test_letters_have_the_height_asked_for():
    picture = meadow(200, 80)
    draw_text(picture, "HEH", (10, 60), capital_px=30, outlined=False)
    rows = np.nonzero(changed(picture).any(axis=1))[0]
    assert np.ptp(rows) == pytest.approx(30 + 4, abs=3)  # half a pen beyond it at both ends
    assert rows.max() == pytest.approx(60 + 2, abs=2)


def test_a_line_of_words_is_as_wide_as_it_says():
    text = "12.3 ± 0.4 cm, 85°"
    picture = meadow(600, 60)
    draw_text(picture, text, (20, 40), capital_px=21, outlined=False)
    columns = np.nonzero(changed(picture).any(axis=0))[0]
    assert columns.max() - 20 == pytest.approx(text_width_px(text, capital_px=21), abs=12)


def test_signs_that_the_font_lacks_are_drawn():
    pictures = {}
    for sign in "±+°?":
        pictures[sign] = meadow(40, 40)
        draw_text(pictures[sign], sign, (8, 30), capital_px=18, outlined=False)
        assert changed(pictures[sign]).any()
    assert not np.array_equal(pictures["±"], pictures["+"])
    assert not np.array_equal(pictures["°"], pictures["?"])


def test_an_outline_keeps_words_legible_on_their_own_colour():
    picture = np.full((60, 200, 3), 255, np.uint8)
    draw_text(picture, "1.234 s", (10, 40), capital_px=20)
    assert (picture.max(axis=2) < 40).sum() > 100


def test_a_long_line_is_made_to_fit():
    text = "a line that is much too long for its place"
    capital_px = fit_capital_px(text, capital_px=30, width_px=300)
    assert text_width_px(text, capital_px=capital_px) == pytest.approx(300, rel=0.05)
    assert fit_capital_px("a", capital_px=30, width_px=300) == 30
