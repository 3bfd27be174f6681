from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from calibration.lane_values import LaneMark
from measure.io.lane_file import UnreadableLane, load_lane

LANE: dict[str, Any] = {
    "marks": [
        {"distance_m": 0.0, "px": [211.0, 640.5], "row": "near"},
        {"distance_m": 4.572, "px": [600.0, 640.0]},
        {"distance_m": 0.0, "px": [250, 630], "row": "far"},
    ],
    "athlete_offset_m": 0.5, "row_spacing_m": 1.5, "phone_distance_m": 15.0, "phone_height_m": 1.3,
    "surface": "grass", "slope_pct": 2.0, "course": [{"distance_m": 4.572}],
    "uprights_px": [[[900.5, 600], [902, 310.5]]],
}  # fmt: skip


def written(folder: Path, plain: Any) -> Path:
    path = folder / "lane.json"
    path.write_text(plain if isinstance(plain, str) else json.dumps(plain), encoding="utf-8")
    return path


def test_every_field_is_read(tmp_path: Path) -> None:
    survey = load_lane(written(tmp_path, LANE))
    assert survey.marks[0] == LaneMark(0.0, (211.0, 640.5), "near")
    assert [mark.row for mark in survey.marks] == ["near", "near", "far"]
    assert survey.course_m == (4.572,)
    assert (survey.athlete_offset_m, survey.row_spacing_m) == (0.5, 1.5)
    assert (survey.phone_distance_m, survey.phone_height_m) == (15.0, 1.3)
    assert (survey.surface, survey.slope_pct) == ("grass", 2.0)
    assert survey.uprights_px == (((900.5, 600.0), (902.0, 310.5)),)


def test_what_may_be_left_out_may_be_left_out(tmp_path: Path) -> None:
    needed = {key: LANE[key] for key in ("marks", "athlete_offset_m", "course")}
    survey = load_lane(written(tmp_path, needed))
    assert survey.phone_distance_m is None
    assert survey.surface == "unknown"


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"marks": None}, "marks: expected a list"),
        ({"course": [{}]}, "course[0].distance_m: expected a number, got None"),
        ({"athlete_offset_m": "half"}, "athlete_offset_m: expected a number, got 'half'"),
        ({"slope_pct": True}, "slope_pct: expected a number, got True"),
        ({"marks": [{"distance_m": 1, "px": [1]}]}, "marks[0].px: expected two numbers"),
        ({"marks": [{"distance_m": 1, "px": [1, 2], "row": "left"}]}, "near or far, got 'left'"),
        ({"marks": [4]}, "marks[0].px"),
        ({"phone_distance": 15}, "phone_distance: not known"),
        ({"uprights_px": [[1, 2]]}, "uprights_px[0][0]: expected two numbers, got 1"),
        ({"uprights_px": [4]}, "uprights_px[0]: expected two points, got 4"),
    ],
)
def test_faults_are_named(tmp_path: Path, change: dict[str, Any], named: str) -> None:
    with pytest.raises(UnreadableLane) as raised:
        load_lane(written(tmp_path, LANE | change))
    assert named in str(raised.value)


def test_all_faults_are_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(UnreadableLane, match=r"course.*athlete_offset_m"):
        load_lane(written(tmp_path, {"marks": [], "course": 3, "athlete_offset_m": None}))


@pytest.mark.parametrize("text", ["", "{", "[1, 2]", "NaN", '{"marks": [], "course": []}'])
def test_what_is_no_lane_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(UnreadableLane):
        load_lane(written(tmp_path, text))


def test_bytes_and_missing_files_are_refused(tmp_path: Path) -> None:
    (tmp_path / "film.mp4").write_bytes(b"\x00\xff\xfe\x80" * 100)
    with pytest.raises(UnreadableLane):
        load_lane(tmp_path / "film.mp4")
    with pytest.raises(UnreadableLane, match="cannot be read"):
        load_lane(tmp_path / "no.json")
