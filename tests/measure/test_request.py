"""What a person may say about a clip."""

from __future__ import annotations

from pathlib import Path

import pytest

from measure.request import ClipRequest, Reference

CLIP = Path("clip.mp4")


@pytest.mark.parametrize("stature_m", [0.8, 1.05, 1.72, 2.4])
def test_children_and_giants_are_welcome(stature_m: float) -> None:
    assert ClipRequest(CLIP, stature_m=stature_m).stature_m == stature_m


@pytest.mark.parametrize("stature_m", [172.0, 0.5, -1.7, float("nan")])
def test_a_stature_in_centimetres_is_noticed(stature_m: float) -> None:
    with pytest.raises(ValueError, match=r"stature_m: expected 0.8 to 2.4 metres, got"):
        ClipRequest(CLIP, stature_m=stature_m)


@pytest.mark.parametrize("rate_hz", [0.0, -60.0, 1.0, 1e6, float("nan")])
def test_an_impossible_capture_rate_is_noticed(rate_hz: float) -> None:
    with pytest.raises(ValueError, match="capture_rate_hz: expected 5 to 2000, got"):
        ClipRequest(CLIP, capture_rate_hz=rate_hz)


@pytest.mark.parametrize("length_m", [0.0, -1.0, float("nan")])
def test_a_reference_has_a_length(length_m: float) -> None:
    with pytest.raises(ValueError, match="length_m: expected > 0, got"):
        Reference((0.0, 0.0), (100.0, 0.0), length_m)


def test_a_request_holds_the_clip_and_what_was_said() -> None:
    request = ClipRequest(CLIP, "vertical", 1.72, 240.0)
    assert (request.path, request.exercise) == (CLIP, "vertical")
    assert (request.reference, request.lane, request.sex) == (None, None, None)
