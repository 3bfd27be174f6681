"""Heights of ideal jumps, and of jumps that can't be measured."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from measure.body import centre_of_mass_px
from measure.jumps import JumpHeights, JumpSettings, measure_jumps
from measure.standing import find_standing
from measure.types import Estimate, Flight, Floats, Instant, Landmark, PoseTrack, Refused, Scale
from tests.known_motions import (
    DrawnScene,
    IdealJump,
    even_stamps,
    runner,
    thrown_point_m,
    uneven_stamps,
    without,
)

SCALE = Scale(DrawnScene().m_per_px, 0.01 * DrawnScene().m_per_px, "stature")
TUCKED = IdealJump(landing_flexion_deg=60.0)


def measured(
    jump: IdealJump, track: PoseTrack, *, flight: Flight | None = None,
    scale: Scale | None = SCALE, settings: JumpSettings | None = None,
) -> JumpHeights:  # fmt: skip
    flights = [flight or jump.flight()]
    return measure_jumps(
        flights, track=track, time_s=track.file_time_s, scale=scale, settings=settings
    )[0]


def value(result: Estimate | Refused) -> float:
    assert isinstance(result, Estimate), result
    return result.value


def refusal(result: Estimate | Refused) -> Refused:
    assert isinstance(result, Refused), result
    return result


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 120.0, 240.0])
@pytest.mark.parametrize("jump", [IdealJump(), TUCKED, IdealJump(height_m=0.12), IdealJump(0.6)])
def test_an_ideal_jump_at_every_rate(jump: IdealJump, rate_hz: float) -> None:
    heights = measured(jump, jump.track(even_stamps(rate_hz, duration_s=4.0)))
    assert value(heights.height_com) == pytest.approx(jump.height_m, abs=1e-4)
    assert value(heights.height_standing) == pytest.approx(jump.height_standing_m, abs=0.002)


def test_a_tucked_landing_misleads_only_the_flight_time() -> None:
    heights = measured(TUCKED, TUCKED.track(even_stamps(60, duration_s=4.0)))
    assert TUCKED.landing_drop_m > 0.03
    assert heights.height.value - TUCKED.height_m == pytest.approx(
        TUCKED.landing_drop_m / 2, rel=0.1
    )
    assert value(heights.height_com) == pytest.approx(TUCKED.height_m, abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_uneven_stamps_and_a_gap_change_nothing(seed: int) -> None:
    stamps = uneven_stamps(60, duration_s=4.0, rng=np.random.default_rng(seed))
    times = without(stamps, between_s=(TUCKED.take_off_s + 0.2, TUCKED.take_off_s + 0.27))
    heights = measured(TUCKED, TUCKED.track(times))
    assert value(heights.height_com) == pytest.approx(TUCKED.height_m, abs=1e-4)
    assert value(heights.height_standing) == pytest.approx(TUCKED.height_standing_m, abs=0.002)


def test_a_clip_filmed_elsewhere_on_earth() -> None:
    jump = IdealJump(gravity_mps2=9.78)
    track = jump.track(even_stamps(60, duration_s=4.0))
    heights = measure_jumps(
        [jump.flight()], track=track, time_s=track.file_time_s, gravity_mps2=9.78
    )
    assert value(heights[0].height_com) == pytest.approx(jump.height_m, abs=1e-4)


def test_slow_motion_is_measured_in_real_time() -> None:
    jump = IdealJump()
    time_s = even_stamps(240, duration_s=4.0)
    track = jump.track(time_s)
    slow = dataclasses.replace(track, file_time_s=time_s * 8)
    heights = measure_jumps([jump.flight()], track=slow, time_s=time_s, scale=SCALE)
    assert value(heights[0].height_com) == pytest.approx(jump.height_m, abs=1e-4)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 240.0])
def test_sigma_covers_what_goes_wrong(rate_hz: float) -> None:
    """Straying landmarks and jittered take-offs as large as claimed: errors as large as sigma."""
    rng = np.random.default_rng(3)
    jump, settings = TUCKED, JumpSettings()
    time_s = even_stamps(rate_hz, duration_s=2.3)
    clean = jump.track(time_s)
    scores, standing_scores = [], []
    for _ in range(80):
        stray_m = _straying(time_s, settings, rng) + rng.normal(
            0, settings.frame_share * settings.body_sigma_m, time_s.shape
        )
        px = clean.px.copy()
        px[..., 1] += stray_m[:, None] / SCALE.m_per_px
        common_s = rng.normal(0, settings.common_take_off_sigma_s)
        flight = jump.flight(take_off_sigma_s=0.0025, landing_sigma_s=0.001)
        late_s = common_s + rng.normal(0, 0.0025)
        flight = dataclasses.replace(flight, take_off=Instant(jump.take_off_s + late_s, 0.0025))
        heights = measured(jump, dataclasses.replace(clean, px=px), flight=flight)
        com, standing = heights.height_com, heights.height_standing
        assert isinstance(com, Estimate)
        scores.append((com.value - jump.height_m) / com.sigma)
        if isinstance(standing, Estimate):
            standing_scores.append((standing.value - jump.height_standing_m) / standing.sigma)
    assert 0.8 < np.sqrt(np.mean(np.square(scores))) < 1.25
    assert np.sqrt(np.mean(np.square(standing_scores))) < 1.25


def _straying(time_s: Floats, settings: JumpSettings, rng: np.random.Generator) -> Floats:
    """Random walk that forgets (Ornstein-Uhlenbeck) at the given times."""
    stray = np.empty_like(time_s)
    stray[0] = rng.normal(0, settings.body_sigma_m)
    for row in range(1, time_s.size):
        kept = np.exp(-(time_s[row] - time_s[row - 1]) / settings.body_memory_s)
        stray[row] = kept * stray[row - 1] + rng.normal(
            0, settings.body_sigma_m * np.sqrt(1 - kept**2)
        )
    return stray


def test_a_misled_pose_raises_the_doubt() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=4.0))
    calm = measured(TUCKED, track).height_com
    track.px[100:108, :, 1] += 25
    shaken = measured(TUCKED, track).height_com
    assert isinstance(calm, Estimate)
    assert isinstance(shaken, Estimate)
    assert shaken.sigma > 2 * calm.sigma
    assert abs(shaken.value - TUCKED.height_m) < 3 * shaken.sigma


def test_a_late_take_off_hardly_moves_the_height_above_standing() -> None:
    track = TUCKED.track(even_stamps(120, duration_s=4.0))
    late = dataclasses.replace(TUCKED.flight(), take_off=Instant(TUCKED.take_off_s + 0.01, 0.01))
    heights = measured(TUCKED, track, flight=late)
    assert TUCKED.height_m - value(heights.height_com) > 0.02
    assert value(heights.height_standing) == pytest.approx(TUCKED.height_standing_m, abs=0.003)


def test_without_scale_only_the_height_above_standing_is_refused() -> None:
    heights = measured(TUCKED, TUCKED.track(even_stamps(60, duration_s=4.0)), scale=None)
    assert value(heights.height_com) == pytest.approx(TUCKED.height_m, abs=1e-4)
    refused = refusal(heights.height_standing)
    assert refused.what == "height_standing_m"
    assert "stature" in refused.hint


def test_without_quiet_standing_there_is_no_height_above_it() -> None:
    time_s = even_stamps(60, duration_s=4.0)
    cut = (time_s > TUCKED.take_off_s - 0.7) & (time_s < TUCKED.landing_s + 0.5)
    heights = measured(TUCKED, TUCKED.track(time_s[cut]))
    assert "No quiet standing" in refusal(heights.height_standing).reason
    assert value(heights.height_com) == pytest.approx(TUCKED.height_m, abs=1e-4)


def test_standing_on_a_box_is_not_the_ground_of_the_jump() -> None:
    time_s = even_stamps(60, duration_s=2.3)
    track = TUCKED.track(time_s)
    track.px[time_s < TUCKED.take_off_s - 0.5, :, 1] -= 75
    assert "the ground of the take-off" in refusal(measured(TUCKED, track).height_standing).reason


def test_the_nearest_standing_counts() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=4.0))
    track.px[track.file_time_s > TUCKED.landing_s + 0.3, :, 1] += 5
    heights = measured(TUCKED, track)
    assert value(heights.height_standing) == pytest.approx(TUCKED.height_standing_m, abs=0.002)


def test_too_few_pictures_in_the_air_are_refused() -> None:
    time_s = even_stamps(60, duration_s=4.0)
    times = without(time_s, between_s=(TUCKED.take_off_s + 0.05, TUCKED.take_off_s + 0.3))
    heights = measured(TUCKED, TUCKED.track(times))
    for result in (heights.height_com, heights.height_standing):
        assert "60 pictures a second" in refusal(result).hint
    assert refusal(heights.height_com).what == "height_com_m"
    assert heights.height.value > TUCKED.height_m


def test_a_leg_unseen_through_the_flight_is_refused() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=4.0))
    track.px[90:125, Landmark.LEFT_KNEE] = np.nan
    assert "only" in refusal(measured(TUCKED, track).height_com).reason


def test_a_head_out_of_the_picture_leaves_what_needs_no_stature() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=4.0))
    track.px[:, Landmark.NOSE] = np.nan
    heights = measured(TUCKED, track)
    assert value(heights.height_com) == pytest.approx(TUCKED.height_m, abs=1e-4)
    assert "No quiet standing" in refusal(heights.height_standing).reason


def test_a_body_that_does_not_fall_is_refused() -> None:
    still = runner(even_stamps(60, duration_s=3.0), speed_mps=0.0)
    flight = Flight(Instant(1.0, 0.002), Instant(1.5, 0.002), "both", "both")
    heights = measure_jumps([flight], track=still, time_s=still.file_time_s)
    assert "as a thrown body" in refusal(heights[0].height_com).reason


def test_times_of_another_track_are_a_wrong_call() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=1.0))
    with pytest.raises(ValueError, match=r"time_s: expected shape \(61,\), got \(60,\)"):
        measure_jumps([], track=track, time_s=track.file_time_s[1:])


@pytest.mark.clips
@pytest.mark.parametrize(
    "name",
    [
        "vertical_side_240", "vertical_front_60", "vertical_side_30", "vertical_variable_60",
        "vertical_slow_240in30", "single_leg_left_side_60", "one_step_left_side_120",
        "drop_hops_side_60", "turn_front_60", "approach_side_60",
    ],
)  # fmt: skip
def test_drawn_people_by_their_true_joints(name: str, shared_clips: Path) -> None:
    """What is left is the body model against the drawn one, without a pose network."""
    truth = json.loads((shared_clips / f"{name}.json").read_text())
    track = _track_of_joints(shared_clips / f"{name}.npz", truth)
    flights = [
        Flight(Instant(j["take_off_s"], 0.0), Instant(j["landing_s"], 0.0), "both", "both")
        for j in truth["jumps"]
    ]
    heights = measure_jumps(flights, track=track, time_s=track.file_time_s)
    for measured_heights, jump in zip(heights, truth["jumps"], strict=True):
        assert value(measured_heights.height_com) == pytest.approx(jump["height_com_m"], abs=0.008)


def _track_of_joints(path: Path, truth: dict[str, dict[str, int]]) -> PoseTrack:
    """Fill a pose track with true joints; hands are drawn up to the wrist."""
    with np.load(path) as drawn:
        names, joints_px, time_s = list(drawn["joints"]), drawn["px"], drawn["time_s"]
    px = np.full((time_s.size, len(Landmark), 2), np.nan)
    for landmark in Landmark:
        side, _, part = landmark.name.partition("_")
        joint = {"PINKY": "wrist", "INDEX": "wrist"}.get(part, part.lower())
        if f"{joint}.{side[0]}" in names:
            px[:, landmark] = joints_px[:, names.index(f"{joint}.{side[0]}")]
    px[:, Landmark.NOSE] = joints_px[:, names.index("nose")]
    return PoseTrack(
        frame_index=np.arange(time_s.size), file_time_s=time_s, px=px,
        visibility=np.ones(px.shape[:2]), world_m=np.zeros((*px.shape[:2], 3)),
        width_px=truth["file"]["width_px"], height_px=truth["file"]["height_px"],
    )  # fmt: skip


@pytest.mark.parametrize("noise_px", [0.0, 1.0])
def test_quiet_standing_is_found_before_and_after(noise_px: float) -> None:
    track = TUCKED.track(
        even_stamps(60, duration_s=4.0), noise_px=noise_px, rng=np.random.default_rng(5)
    )
    stands = find_standing(track, time_s=track.file_time_s, centre_px=centre_of_mass_px(track))
    dip_starts_s = TUCKED.take_off_s - 0.5 - 2.2 * 0.25 / TUCKED.speed_mps
    assert stands[0].start_s < 0.2
    assert stands[0].end_s == pytest.approx(dip_starts_s, abs=0.15)
    assert stands[-1].end_s > 3.8
    assert all(s.end_s < TUCKED.take_off_s or s.start_s > TUCKED.landing_s for s in stands)
    level_px = DrawnScene().floor_px - TUCKED.centre_m(np.zeros(1))[0] / SCALE.m_per_px
    assert stands[0].centre_px == pytest.approx(level_px, abs=0.5)


def test_somebody_who_glides_past_is_not_standing() -> None:
    passing = runner(even_stamps(60, duration_s=3.0), speed_mps=0.5)
    centre_px = centre_of_mass_px(passing)
    assert find_standing(passing, time_s=passing.file_time_s, centre_px=centre_px) == ()


def test_standing_on_one_leg_is_not_quiet_standing() -> None:
    track = TUCKED.track(even_stamps(60, duration_s=0.8))
    track.px[:, [Landmark.LEFT_TOE, Landmark.LEFT_HEEL, Landmark.LEFT_ANKLE], 1] -= 40
    centre_px = centre_of_mass_px(track)
    assert find_standing(track, time_s=track.file_time_s, centre_px=centre_px) == ()


@pytest.mark.parametrize("jump", [IdealJump(), TUCKED])
def test_the_drawn_jump_keeps_its_word(jump: IdealJump) -> None:
    """The known motion itself: centre of mass on a parabola, feet still on the ground."""
    time_s = even_stamps(240, duration_s=4.0)
    track = jump.track(time_s)
    scene = DrawnScene()
    level_m = (scene.floor_px - centre_of_mass_px(track)[:, 1]) * scene.m_per_px
    flying = (time_s > jump.take_off_s) & (time_s < jump.landing_s)
    leaves_m = jump.centre_m(np.array([jump.take_off_s]))[0]
    thrown_m = (
        leaves_m
        + jump.speed_mps * (time_s - jump.take_off_s)
        - (jump.gravity_mps2 * (time_s - jump.take_off_s) ** 2 / 2)
    )
    assert level_m[flying] == pytest.approx(thrown_m[flying], abs=1e-4)
    toe_m = (scene.floor_px - track.px[:, Landmark.LEFT_TOE, 1]) * scene.m_per_px
    assert np.abs(toe_m[~flying]).max() < 1e-3
    assert toe_m[flying].min() > -1e-3
    assert toe_m.max() > 0.2


def test_the_thrown_point_comes_back() -> None:
    time_s = even_stamps(240, duration_s=2.0)
    height_m = thrown_point_m(time_s, thrown_at_s=0.5, speed_mps=2.4)
    assert height_m.max() == pytest.approx(2.4**2 / 2 / 9.80665, abs=1e-4)
    assert height_m[time_s < 0.5].max() == 0.0
    assert height_m[time_s > 0.5 + 2 * 2.4 / 9.80665].max() == 0.0
