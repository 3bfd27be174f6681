"""Published postures and angles; the body seen by a camera."""

from __future__ import annotations

import math

import numpy as np
import pytest

from measure.body import centre_of_mass, centre_of_mass_px, joint_flexion_deg
from measure.segments import Sex, list_segments
from measure.types import Floats, Landmark, PoseTrack

# Postures in metres, side view, both sides alike (computed from de Leva's table).
STAND = {
    "vertex": (0, 1.70), "neck": (0, 1.46), "mid_shoulder": (0, 1.40), "shoulder": (0, 1.40),
    "mid_hip": (0, 0.90), "hip": (0, 0.90), "elbow": (0, 1.12), "wrist": (0, 0.87),
    "knuckle": (0, 0.79), "knee": (0, 0.48), "ankle": (0, 0.08), "heel": (-0.05, 0.03),
    "toe": (0.18, 0.02),
}  # fmt: skip
CROUCH = {
    "vertex": (0.30, 1.42), "neck": (0.22, 1.20), "mid_shoulder": (0.19, 1.14),
    "shoulder": (0.19, 1.14), "mid_hip": (-0.10, 0.72), "hip": (-0.10, 0.72),
    "elbow": (0.05, 0.90), "wrist": (0.25, 0.75), "knuckle": (0.33, 0.74), "knee": (0.25, 0.46),
    "ankle": (0, 0.09), "heel": (-0.05, 0.03), "toe": (0.18, 0.02),
}  # fmt: skip
MIDDLE = ("vertex", "neck", "mid_shoulder", "mid_hip")


def both_sides(posture: dict[str, tuple[float, float]]) -> dict[str, Floats]:
    ends = {name: np.array(posture[name], dtype=float) for name in MIDDLE}
    for side in ("left", "right"):
        for name in posture.keys() - MIDDLE:
            ends[f"{side}_{name}"] = np.array(posture[name], dtype=float)
    return ends


def as_track(posture: dict[str, tuple[float, float]], *, rows: int = 3) -> PoseTrack:
    """Draw a posture at 100 px a metre, floor at 400 px; the ears at the head's centre."""
    px = np.zeros((rows, len(Landmark), 2))
    names = {
        "SHOULDER": "shoulder", "ELBOW": "elbow", "WRIST": "wrist", "PINKY": "knuckle",
        "INDEX": "knuckle", "HIP": "hip", "KNEE": "knee", "ANKLE": "ankle", "HEEL": "heel",
        "TOE": "toe",
    }  # fmt: skip
    for landmark in Landmark:
        name = landmark.name.split("_")[-1]
        place = np.array(posture[names[name]] if name in names else head_centre(posture))
        px[:, landmark] = (300 + 100 * place[0], 400 - 100 * place[1])
    return PoseTrack(
        frame_index=np.arange(rows), file_time_s=np.arange(rows) / 60, px=px,
        visibility=np.ones((rows, 33)), world_m=np.zeros((rows, 33, 3)),
        width_px=640, height_px=480,
    )  # fmt: skip


def head_centre(posture: dict[str, tuple[float, float]]) -> Floats:
    share = (0.4841 + 0.5002) / 2
    return (1 - share) * np.array(posture["vertex"]) + share * np.array(posture["neck"])


@pytest.mark.parametrize(
    ("posture", "sex", "expected_m"),
    [
        (STAND, "female", (0.00109, 0.97270)), (STAND, "male", (0.00141, 0.96720)),
        (CROUCH, "female", (0.08709, 0.80237)), (CROUCH, "male", (0.08644, 0.79816)),
    ],
)  # fmt: skip
def test_centre_of_mass_of_known_postures(
    posture: dict[str, tuple[float, float]], sex: Sex, expected_m: tuple[float, float]
) -> None:
    # Computed from the table of de Leva 1996, J Biomech 29:1223, divided by the sum used.
    assert centre_of_mass(both_sides(posture), sex=sex) == pytest.approx(expected_m, abs=1e-5)


@pytest.mark.parametrize(("sex", "total"), [("female", 0.9999), ("male", 1.0)])
def test_masses_add_up_as_in_the_table(sex: Sex, total: float) -> None:
    masses = sum(segment.mass_fraction for segment in list_segments(sex))
    assert masses == pytest.approx(total, abs=1e-9)


def test_an_unknown_sex_lies_between_the_tables() -> None:
    levels = [centre_of_mass(both_sides(STAND), sex=sex)[1] for sex in ("male", None, "female")]
    assert levels == sorted(levels)
    assert levels[1] == pytest.approx((levels[0] + levels[2]) / 2, abs=5e-4)


def test_the_centre_moves_with_the_body_and_keeps_its_shape() -> None:
    still = both_sides(CROUCH)
    moved = {name: np.stack([end, end + 1.5]) for name, end in still.items()}
    centre = centre_of_mass(moved)
    assert centre.shape == (2, 2)
    assert centre[1] - centre[0] == pytest.approx([1.5, 1.5], abs=1e-12)


def test_missing_ends_are_all_named() -> None:
    ends = both_sides(STAND)
    del ends["left_toe"], ends["neck"]
    with pytest.raises(ValueError, match="ends: expected also left_toe, neck"):
        centre_of_mass(ends)


@pytest.mark.parametrize("posture", [STAND, CROUCH])
def test_the_track_gives_the_same_centre_in_pixels(posture: dict[str, tuple[float, float]]) -> None:
    x_m, y_m = centre_of_mass(both_sides(posture))
    centre_px = centre_of_mass_px(as_track(posture))
    assert centre_px.shape == (3, 2)
    assert centre_px[1] == pytest.approx([300 + 100 * x_m, 400 - 100 * y_m], abs=0.01)


def test_an_unseen_arm_swings_with_the_seen_one() -> None:
    track = as_track(CROUCH)
    whole = centre_of_mass_px(track)
    for mark in (Landmark.RIGHT_SHOULDER, Landmark.RIGHT_ELBOW, Landmark.RIGHT_WRIST,
                 Landmark.RIGHT_PINKY, Landmark.RIGHT_INDEX, Landmark.RIGHT_EAR):  # fmt: skip
        track.px[1, mark] = np.nan
    assert centre_of_mass_px(track) == pytest.approx(whole, abs=1e-9)


def test_a_doubtful_arm_counts_as_unseen_and_a_doubtful_leg_does_not() -> None:
    track = as_track(CROUCH)
    whole = centre_of_mass_px(track)
    track.px[1, Landmark.LEFT_WRIST] += 80
    track.visibility[1, Landmark.LEFT_WRIST] = 0.1
    track.visibility[1, Landmark.LEFT_KNEE] = 0.1
    assert centre_of_mass_px(track, lowest_visibility=0.3) == pytest.approx(whole, abs=1e-9)
    assert centre_of_mass_px(track)[1, 0] > whole[1, 0] + 0.5


def test_an_unseen_leg_leaves_the_row_open() -> None:
    track = as_track(STAND)
    track.px[1, Landmark.LEFT_KNEE] = np.nan
    assert np.isfinite(centre_of_mass_px(track)).all(axis=1).tolist() == [True, False, True]


@pytest.mark.parametrize(
    ("hip", "knee", "ankle", "flexion_deg"),
    [
        ((0, 1), (0, 0.5), (0, 0), 0.0), ((0, 1), (0.1, 0.55), (0, 0.1), 25.0576),
        ((-0.25, 0.75), (0.1, 0.5), (0, 0.1), 68.4986), ((0, 0.5), (0.5, 0.5), (0.5, 0), 90.0),
    ],
)  # fmt: skip
def test_flexion_of_known_legs(
    hip: tuple[float, float], knee: tuple[float, float], ankle: tuple[float, float],
    flexion_deg: float,
) -> None:  # fmt: skip
    flat = [np.array(point, dtype=float) for point in (hip, knee, ankle)]
    in_space = [np.append(point, 3.0) for point in flat]
    for proximal, joint, distal in (flat, in_space):
        flexion = joint_flexion_deg(proximal=proximal, joint=joint, distal=distal)
        assert float(flexion) == pytest.approx(flexion_deg, abs=1e-3)


@pytest.mark.parametrize(
    ("true_deg", "shown_deg"),
    [(30.0, (29.56, 28.27, 26.13)), (60.0, (59.24, 56.96, 53.13)), (90.0, (89.12, 86.44, 81.79))],
)
def test_a_camera_turned_out_of_the_legs_plane_sees_less_flexion(
    true_deg: float, shown_deg: tuple[float, float, float]
) -> None:
    # Calculated: thigh and shank alike, bent forward of the line from hip to ankle.
    half = math.radians(true_deg / 2)
    for yaw_deg, expected_deg in zip((10, 20, 30), shown_deg, strict=True):
        forward = math.sin(half) * math.cos(math.radians(yaw_deg))
        hip, knee, ankle = (
            np.array(point) for point in ((0, math.cos(half)), (forward, 0), (0, -math.cos(half)))
        )
        shown = joint_flexion_deg(proximal=hip, joint=knee, distal=ankle)
        assert float(shown) == pytest.approx(expected_deg, abs=0.006)


def test_flexion_is_exact_near_straight() -> None:
    # acos would lose half of the digits here.
    knee = np.array([1e-9, 0.5])
    flexion = joint_flexion_deg(
        proximal=np.array([0.0, 1.0]), joint=knee, distal=np.array([0.0, 0.0])
    )
    assert float(flexion) == pytest.approx(math.degrees(4e-9), rel=1e-5)


def test_flexion_of_an_unseen_point_is_not_a_number() -> None:
    path = np.array([[0.0, 0.5], [np.nan, np.nan]])
    top, bottom = np.array([0.0, 1.0]), np.array([0.0, 0.0])
    flexion = joint_flexion_deg(proximal=top, joint=path, distal=bottom)
    assert flexion[0] == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(flexion[1])


def test_points_on_a_line_are_a_wrong_call() -> None:
    point = np.zeros((4, 1))
    with pytest.raises(ValueError, match="joint: expected a last axis of 2 or 3, got 1"):
        joint_flexion_deg(proximal=point, joint=point, distal=point)
