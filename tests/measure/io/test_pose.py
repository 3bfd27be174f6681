"""Regions: where a pose model looks, and the map between its crop and the picture."""

from __future__ import annotations

import math

import numpy as np
import pytest

from measure.io.pose import Region, region_from_axis


def _mapped(region: Region, crop_xy: tuple[float, float], crop_px: int = 256) -> list[float]:
    matrix = region.upright_from_crop(crop_px)
    return list(matrix[:, :2] @ crop_xy + matrix[:, 2])


def test_crop_middle_is_region_centre():
    region = Region((300.0, 200.0), 128.0, angle_rad=0.7)
    assert _mapped(region, (128, 128)) == pytest.approx([300.0, 200.0])


def test_upright_region_maps_corners_to_its_edges():
    region = Region((300.0, 200.0), 128.0)
    assert _mapped(region, (0, 0)) == pytest.approx([236.0, 136.0])
    assert _mapped(region, (256, 256)) == pytest.approx([364.0, 264.0])


def test_crop_upwards_is_along_the_body():
    # The body lies with its head to the right: up in the crop is right in the picture.
    region = region_from_axis(np.array([[100.0, 50.0], [140.0, 50.0]]))
    assert region.angle_rad == pytest.approx(math.pi / 2)
    above = _mapped(region, (128, 0))
    assert above == pytest.approx([100 + region.size_px / 2, 50.0])


def test_region_holds_circle_with_margin():
    region = region_from_axis(np.array([[100.0, 50.0], [100.0, 10.0]]), margin=1.25)
    assert region.size_px == pytest.approx(2 * 40 * 1.25)
    assert region.angle_rad == pytest.approx(0.0)
