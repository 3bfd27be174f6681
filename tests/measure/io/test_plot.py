"""The plot of the hips and its strip."""

import numpy as np
import pytest

from measure.io.draw import SIGN_COLOURS
from measure.io.moments import Event, HipCurve, Span
from measure.io.plot import DARK, LIGHT, Axes, Story, draw_cursor, draw_strip, pick_ticks
from measure.io.plot import plot_hip_height as plot

TIME_S = np.linspace(0, 2, 121)


def story(height=None, *, events=(), spans=None):
    height = 20 * np.sin(TIME_S * np.pi) if height is None else height
    return Story(HipCurve(TIME_S, height, "cm"), spans or {}, events, (0.0, 2.0))


def rows_and_columns(picture, colour):
    return np.nonzero((picture == colour).all(axis=2))


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (0, 10, 5, [0, 2, 4, 6, 8, 10]),
        (-3.1, 4.2, 8, [-3, -2, -1, 0, 1, 2, 3, 4]),
        (0.02, 0.09, 4, [0.02, 0.04, 0.06, 0.08]),
        (-35, 41, 7, [-20, 0, 20, 40]),
    ],
)
def test_ticks_are_round_numbers(low, high, most, expected):
    np.testing.assert_allclose(pick_ticks(low, high, most=most), expected, atol=1e-12)


def test_zero_has_no_sign():
    assert [f"{tick:g}" for tick in pick_ticks(-1, 1, most=2)] == ["-1", "0", "1"]


def test_axes_put_their_corners_where_they_are():
    axes = Axes(10, 20, 110, 70, (0.0, 2.0), (-1.0, 1.0))
    np.testing.assert_allclose(axes.at(np.array([0, 2]), np.array([-1, 1])), [[10, 70], [110, 20]])


def test_the_curve_rises_to_the_left_and_sinks_to_the_right():
    strip, axes = draw_strip(story(), width_px=400, height_px=140)
    top = axes.at(np.array(0.5), np.array(20.0)).round().astype(int)
    low = axes.at(np.array(1.5), np.array(-20.0)).round().astype(int)
    for column, row in (top, low):
        assert strip[row - 2 : row + 3, column].max() > 200
    assert top[1] < low[1]


def test_an_event_stands_on_the_curve():
    event = Event(1, "take_off", 0.5, 0.002)
    picture, axes = draw_strip(story(events=(event,)), width_px=400, height_px=140)
    rows, columns = rows_and_columns(picture, SIGN_COLOURS["take_off"])
    assert (columns.mean(), rows.mean()) == pytest.approx(axes.at(0.5, 20.0), abs=5)


def test_contacts_are_bars_and_flights_thin_lines_and_the_unknown_is_empty():
    spans = {"left": (Span("ground", -np.inf, 0.5), Span("air", 0.5, 1.0)),
             "right": (Span("ground", 1.0, np.inf),)}  # fmt: skip
    picture, axes = draw_strip(story(spans=spans), width_px=400, height_px=140)
    thick = {
        (foot, at_s): int(
            (picture[:, round(axes.at(at_s, 0.0)[0])] == DARK.feet[foot]).all(1).sum()
        )
        for foot in ("left", "right")
        for at_s in (0.25, 0.75, 1.5)
    }
    assert thick["left", 0.25] > 4 * thick["left", 0.75] > 0
    assert thick["left", 1.5] == 0
    assert thick["right", 1.5] > 10
    assert thick["right", 0.25] == 0


def test_the_cursor_stands_at_its_moment():
    picture, axes = draw_strip(story(), width_px=400, height_px=140)
    draw_cursor(picture, axes, at_s=1.0)
    _, columns = rows_and_columns(picture, (255, 230, 0))
    assert columns.mean() + 0.5 == pytest.approx(axes.at(1.0, 0.0)[0], abs=1)


def test_a_gap_in_the_curve_stays_a_gap():
    height = 20 * np.sin(TIME_S * np.pi)
    height[40:80] = np.nan
    whole, axes = draw_strip(story(), width_px=400, height_px=140)
    broken, _ = draw_strip(story(height), width_px=400, height_px=140)
    column = round(axes.at(1.0, 0.0)[0])
    assert (whole[:, column] == 255).all(axis=1).any()
    assert not (broken[:, column] == 255).all(axis=1).any()


@pytest.mark.parametrize("height", [np.full(121, np.nan), np.zeros(121)])
def test_nothing_seen_and_nothing_moving_draw_an_empty_plot(height):
    picture = plot(story(height, events=(Event(1, "deepest", 1.0),)))
    assert picture.shape == (720, 1280, 3)


def test_a_plot_names_its_axes_and_signs_in_dark_ink_on_white():
    events = (Event(1, "take_off", 0.5, 0.002), Event(1, "landing", 1.0, 0.002))
    with_signs = plot(story(events=events), width_px=640, height_px=360)
    without = plot(story(), width_px=640, height_px=360)
    assert (with_signs[:46] != without[:46]).any()  # the signs are explained above the plot
    assert (without[330:] < 120).all(axis=2).any()  # the time below it
    assert (without == LIGHT.ground).all(axis=2).mean() > 0.8
