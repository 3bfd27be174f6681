"""The view from which a doll is seen."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.types import Refused
from measure.view import SeenView, assess_view
from tests.measure.landing.doll import Doll, clock


@pytest.mark.parametrize(
    ("heading_deg", "view"),
    [(0, "front"), (20, "front"), (-20, "front"), (180, "front"), (-165, "front"),
     (90, "side"), (-90, "side"), (75, "side"), (-110, "side"),
     (45, "oblique"), (-45, "oblique"), (135, "oblique")],
)  # fmt: skip
def test_views_all_round(heading_deg, view):
    seen = assess_view(Doll(clock(30), heading_deg=heading_deg).film(), time_s=clock(30))
    assert isinstance(seen, SeenView)
    assert seen.view == view
    assert abs((seen.heading_deg - heading_deg + 180) % 360 - 180) < 1
    assert seen.from_behind == (abs(heading_deg) > 90)


def test_each_part_of_a_clip_has_its_own_view():
    time_s = clock(60)
    turning = Doll(time_s, heading_deg=np.where(time_s < 1.3, 0.0, 90.0)).film()
    assert assess_view(turning, time_s=time_s, end_s=1.2).view == "front"
    assert assess_view(turning, time_s=time_s, start_s=1.4).view == "side"


def test_nobody_has_no_view():
    track = Doll(clock(30)).film()
    empty = dataclasses.replace(track, world_m=np.full_like(track.world_m, np.nan))
    assert isinstance(assess_view(empty, time_s=clock(30)), Refused)


@pytest.mark.parametrize(("twist_deg", "view"), [(10, "front"), (60, "oblique")])
def test_a_body_whose_parts_disagree_is_seen_square_from_nowhere(twist_deg, view):
    track = Doll(clock(30)).film()
    world_m, twist = track.world_m.copy(), np.radians(twist_deg)
    for ear, side in ((7, 1), (8, -1)):
        world_m[:, ear, 0], world_m[:, ear, 2] = side * np.cos(twist), side * np.sin(twist)
    seen = assess_view(dataclasses.replace(track, world_m=world_m), time_s=clock(30))
    assert seen.view == view
