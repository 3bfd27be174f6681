"""Who is followed, on staged scenes with a model that sees them perfectly, and on drawn clips."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import numpy as np
import pytest

from measure.errors import NothingToMeasure
from measure.io.athlete import follow_athlete
from measure.io.bodies import Body, Seen
from measure.io.borrowed import BorrowedSettings, drop_borrowed_legs
from measure.io.pose import Landmarks, Region, region_from_axis
from measure.io.pose_landmarks import BundledPose
from measure.io.read import open_clip
from measure.types import Landmark

WIDTH_PX, HEIGHT_PX = 1280, 720
BRIDGED_PX = 1.5
"""Where somebody at rest starts to move, up to the next look."""
Path = Callable[[float], tuple[float, float]]


@dataclass(frozen=True)
class Person:
    """Somebody whose hips follow a path; the nearer one hides the farther."""

    hips_px: Path
    radius_px: float = 200.0
    nearness: float = 0.0
    here: Callable[[float], bool] = lambda time_s: True
    visibility: float = 0.9

    def pose(self, time_s: float) -> Landmarks:
        centre = np.array(self.hips_px(time_s))
        shape = np.zeros((len(Landmark), 2))
        shape[: Landmark.LEFT_SHOULDER] = [0, -0.9]
        for row, y in [(11, -0.6), (13, -0.4), (15, -0.1), (17, 0), (19, 0), (21, 0), (23, 0),
                       (25, 0.45), (27, 0.9), (29, 0.95), (31, 0.97)]:  # fmt: skip
            shape[row], shape[row + 1] = [0.12, y], [-0.12, y]
        px = centre + shape * self.radius_px
        world_m = np.concatenate([shape, np.zeros((len(Landmark), 1))], axis=1)
        axis_px = np.array([centre, centre - [0, self.radius_px]])
        return Landmarks(px, np.full(len(Landmark), self.visibility), world_m, 1.0, axis_px)


@dataclass(frozen=True)
class StagedFrame:
    index: int
    file_time_s: float
    width_px: int = WIDTH_PX
    height_px: int = HEIGHT_PX

    def warp(self, upright_from_crop, *, size_px):
        raise AssertionError("the staged model looks at no pixels")


@dataclass
class StagedModel:
    """Sees whoever stands in the region, nearest person first."""

    people: Sequence[Person]
    name: str = "staged/1"
    smallest_part: float = 0.0
    looks: list[int] = field(default_factory=list)

    def detect(self, picture, area=None):
        now_s = picture.file_time_s
        side = area.size_px if area else max(picture.width_px, picture.height_px)
        middle = area.centre_px if area else (picture.width_px / 2, picture.height_px / 2)
        return [
            region_from_axis(person.pose(now_s).axis_px, score=0.9)
            for person in self.people
            if person.here(now_s)
            and 2 * person.radius_px > self.smallest_part * side
            and max(abs(np.subtract(person.hips_px(now_s), middle))) < side / 2
        ]

    def landmarks(self, picture, region: Region):
        self.looks.append(picture.index)
        now_s = picture.file_time_s
        near = [
            person
            for person in self.people
            if person.here(now_s)
            and math.dist(person.hips_px(now_s), region.centre_px) < 0.3 * region.size_px
            and 0.5 < 2.5 * person.radius_px / region.size_px < 2
        ]
        if not near:
            return None
        front = max(near, key=lambda person: person.nearness)
        return front.pose(now_s)


def staged_clip(rate_hz: float, duration_s: float) -> SimpleNamespace:
    count = round(rate_hz * duration_s)
    return SimpleNamespace(
        frames=lambda: (StagedFrame(k, k / rate_hz) for k in range(count)),
        stamps=SimpleNamespace(usual_interval_s=1 / rate_hz, frame_count=count),
        stream=SimpleNamespace(width_px=WIDTH_PX, height_px=HEIGHT_PX),
    )


def jumping(x_px: float = 640.0, *, every_s: float = 3.0) -> Path:
    """Standing, and every three seconds a dip and half a second in the air."""

    def hips(time_s: float) -> tuple[float, float]:
        into_s = time_s % every_s - 1.0
        rise = 980 * into_s * (0.5 - into_s) if 0 < into_s < 0.5 else 0.0
        dip = 30 * math.sin(math.pi * into_s / 0.5) ** 2 if -0.5 < into_s < 0 else 0.0
        return x_px, 400.0 - 2 * (rise - dip)

    return hips


def walking(start_px: float, speed_px_per_s: float, y_px: float = 380.0) -> Path:
    return lambda time_s: (start_px + speed_px_per_s * time_s, y_px)


def standing(x_px: float) -> Path:
    return lambda time_s: (x_px, 400.0)


def hips_px(track) -> np.ndarray:
    return track.px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1)


def true_px(person: Person, track) -> np.ndarray:
    return np.array([person.hips_px(t) for t in track.file_time_s])


@pytest.mark.parametrize(
    ("rate_hz", "stride"),
    [(24, 1), (30, 1), (59.94, 1), (75, 1), (90, 1), (119.88, 2), (120, 2), (240, 4)],
)
def test_poses_at_sixty_per_second(rate_hz, stride):
    athlete = Person(jumping())
    track = follow_athlete(staged_clip(rate_hz, 2.0), StagedModel([athlete])).track
    assert np.all(np.diff(track.frame_index) == stride)
    np.testing.assert_allclose(hips_px(track), true_px(athlete, track), atol=BRIDGED_PX)


def test_who_stands_still_is_looked_at_now_and_then_and_who_moves_in_every_row():
    model = StagedModel([Person(jumping())])
    track = follow_athlete(staged_clip(60, 5.0), model).track
    looked_at = np.bincount(model.looks, minlength=300) > 0
    into_jump_s = track.file_time_s % 3.0 - 0.5  # a dip of half a second, then as long in the air
    moves = (into_jump_s > 0.2) & (into_jump_s < 1.0)
    assert looked_at[moves].all()
    assert looked_at[~moves].mean() < 0.7
    assert looked_at[299]
    assert np.isfinite(track.px).all()
    assert np.isfinite(track.world_m).all()


def test_progress_ends_at_one_and_every_frame_is_handed_on():
    done, handed = [], []
    follow_athlete(
        staged_clip(240, 1.0), StagedModel([Person(jumping())]),
        progress=done.append, each_frame=lambda frame: handed.append(frame.index),
    )  # fmt: skip
    assert handed == list(range(240))
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)


def test_nobody_is_said_with_a_remedy():
    with pytest.raises(NothingToMeasure, match="Film one athlete"):
        follow_athlete(staged_clip(30, 2.0), StagedModel([]))


def test_jumper_is_chosen_before_a_larger_bystander():
    athlete = Person(jumping(500))
    bystander = Person(standing(950), radius_px=230)
    followed = follow_athlete(staged_clip(60, 4.0), StagedModel([bystander, athlete]))
    np.testing.assert_allclose(hips_px(followed.track)[:, 0], 500.0)
    assert followed.most_people == 2
    assert followed.seen_share == 1.0


def test_athlete_is_found_before_a_row_of_team_mates():
    mates = [Person(standing(x), radius_px=120) for x in (100, 300, 900, 1050, 1200)]
    athlete = Person(jumping(), here=lambda time_s: time_s > 0.2)
    track = follow_athlete(staged_clip(60, 4.0), StagedModel([*mates, athlete])).track
    seen = np.isfinite(hips_px(track)[:, 0])
    np.testing.assert_allclose(hips_px(track)[seen, 0], 640.0)
    assert seen[track.file_time_s > 0.8].all()


def test_jumper_is_kept_before_a_walker_who_is_there_longer():
    athlete = Person(jumping(700), here=lambda time_s: time_s < 3)
    walker = Person(walking(40, 100), radius_px=180)
    followed = follow_athlete(staged_clip(60, 4.0), StagedModel([walker, athlete]))
    seen = np.isfinite(hips_px(followed.track)[:, 0])
    np.testing.assert_allclose(hips_px(followed.track)[seen, 0], 700.0)
    assert seen.sum() == pytest.approx(180, abs=2)


@pytest.mark.parametrize("rate_hz", [30, 60])
@pytest.mark.parametrize("radius_px", [200.0, 320.0])
def test_passer_in_front_leaves_a_gap_and_no_wrong_pose(rate_hz, radius_px):
    athlete = Person(jumping())
    passer = Person(walking(-600, 500), radius_px=radius_px, nearness=1.0)
    track = follow_athlete(staged_clip(rate_hz, 5.0), StagedModel([athlete, passer])).track
    seen = np.isfinite(hips_px(track)[:, 0])
    np.testing.assert_allclose(hips_px(track)[seen], true_px(athlete, track)[seen], atol=BRIDGED_PX)
    assert 0.6 < seen.mean() < 1.0
    assert seen[-1], "she is found again"


def test_found_again_at_the_same_place_after_leaving_the_picture():
    athlete = Person(jumping(), here=lambda time_s: not 2.0 < time_s < 3.0)
    track = follow_athlete(staged_clip(60, 5.0), StagedModel([athlete])).track
    seen = np.isfinite(hips_px(track)[:, 0])
    assert not seen[(track.file_time_s > 2.0) & (track.file_time_s < 3.0)].any()
    assert seen[track.file_time_s > 3.3].all()


@dataclass
class Blinking(StagedModel):
    """At first sight wrong in some pictures; looking again helps."""

    wrong_s: Sequence[tuple[float, float]] = ()

    def landmarks(self, picture, region: Region):
        first_look = picture.index not in self.looks
        pose = super().landmarks(picture, region)
        wrong = any(from_s <= picture.file_time_s < until_s for from_s, until_s in self.wrong_s)
        if pose is None or not wrong or not first_look:
            return pose
        aside_px = np.array([90.0, 0.0])
        return replace(pose, px=pose.px + aside_px, axis_px=pose.axis_px + aside_px)


def test_whom_the_first_look_misses_is_nobody_new():
    athlete = Person(jumping())
    model = Blinking([athlete], wrong_s=[(1.2, 1.21), (1.3, 1.7)])
    track = follow_athlete(staged_clip(60, 3), model).track
    np.testing.assert_allclose(hips_px(track), true_px(athlete, track), atol=BRIDGED_PX)


def test_an_athlete_who_joins_a_crowd_takes_the_place_of_the_smallest():
    crowd = [Person(standing(150.0 + 220 * k), radius_px=90.0 - 3 * k) for k in range(4)]
    athlete = Person(jumping(1040.0), here=lambda time_s: time_s > 0.6)
    track = follow_athlete(staged_clip(60, 3), StagedModel([*crowd, athlete])).track
    seen = np.isfinite(track.px[:, 0, 0])
    assert seen[track.file_time_s > 1.2].all()
    expected_px = true_px(athlete, track)[seen]
    np.testing.assert_allclose(hips_px(track)[seen], expected_px, atol=BRIDGED_PX)


def test_somebody_of_another_size_does_not_take_her_place():
    athlete = Person(jumping(), here=lambda time_s: time_s < 3.0)
    heir = Person(standing(640), radius_px=320, here=lambda time_s: time_s > 3.2)
    track = follow_athlete(staged_clip(60, 5.0), StagedModel([athlete, heir])).track
    assert np.isnan(hips_px(track)[track.file_time_s > 3.2]).all()


def test_small_athlete_is_found_in_enlarged_parts():
    athlete = Person(walking(200, 250, y_px=500), radius_px=40)
    model = StagedModel([athlete], smallest_part=0.2)
    followed = follow_athlete(staged_clip(60, 3.0), model)
    assert followed.seen_share == 1.0
    track = followed.track
    np.testing.assert_allclose(hips_px(track), true_px(athlete, track), atol=1e-6)


def test_sprinter_is_not_lost_at_thirty_per_second():
    runner = Person(walking(30, 420, y_px=500), radius_px=60)
    followed = follow_athlete(staged_clip(30, 2.8), StagedModel([runner]))
    assert followed.seen_share == 1.0


def rows_of(person: Person, times_s: np.ndarray) -> list[Seen]:
    return [Seen(k, float(t), person.pose(t)) for k, t in enumerate(times_s)]


@pytest.mark.parametrize(("others_visibility", "gone"), [(0.95, True), (0.3, False)])
def test_leg_on_somebody_elses_leg_is_taken_out(others_visibility, gone):
    times_s = np.arange(60) / 60
    athlete = Person(standing(640), visibility=0.6)
    # The other's right leg is where her left leg is said to be; the trunks are apart.
    other = Person(standing(640 + 0.24 * 200), visibility=others_visibility)
    beside = Body(rows_of(other, times_s)[:20])
    rows = drop_borrowed_legs(rows_of(athlete, times_s), [beside], settings=BorrowedSettings())
    left = np.array([row.pose.px[Landmark.LEFT_ANKLE, 0] for row in rows])
    right = np.array([row.pose.px[Landmark.RIGHT_ANKLE, 0] for row in rows])
    assert np.isnan(left[:20]).all() == gone
    # Her ankles are apart, so the leg is not trusted again before 0.4 s have passed.
    assert np.isnan(left[:44]).all() == gone
    assert np.isfinite(left[44:]).all()
    assert np.isfinite(right).all()
    assert all(np.isfinite(row.pose.px[Landmark.LEFT_HIP]).all() for row in rows)


@pytest.mark.parametrize(("others_radius_px", "kept"), [(150.0, True), (230.0, False)])
def test_of_legs_that_hide_somebody_one_at_least_is_her_own(others_radius_px, kept):
    """The model puts the legs of who walks by behind her on hers; in front it is the other way."""
    times_s = np.arange(60) / 60
    athlete = Person(standing(640), visibility=0.6)
    other = Person(standing(640), radius_px=others_radius_px, visibility=0.95)
    hers, theirs = rows_of(athlete, times_s), rows_of(other, times_s)
    legs = range(Landmark.LEFT_KNEE, Landmark.RIGHT_TOE + 1)
    for row, behind in zip(hers, theirs, strict=True):
        row.pose.visibility[Landmark.RIGHT_KNEE :: 2] = 0.5
        behind.pose.px[legs] = row.pose.px[legs]
    rows = drop_borrowed_legs(hers, [Body(theirs)], settings=BorrowedSettings())
    left, right = (
        np.isfinite([row.pose.px[ankle, 0] for row in rows])
        for ankle in (Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE)
    )
    assert left.all() == kept
    assert not right.any()


def test_cut_feet_are_reported():
    low = Person(lambda time_s: (640.0, 600.0 - 30 * math.sin(6 * time_s)))
    followed = follow_athlete(staged_clip(60, 3.0), StagedModel([low]))
    assert followed.feet_cut_share > 0.9
    assert followed.head_cut_share == 0.0
    whole = follow_athlete(staged_clip(60, 3.0), StagedModel([Person(jumping())]))
    assert whole.feet_cut_share == 0.0
    assert whole.height_px == pytest.approx(1.85 * 200, rel=0.01)


@pytest.mark.clips
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "least_seen"),
    [("vertical_walker_side_60", 0.98),
     ("vertical_passer_side_60", 0.88), ("vertical_far_side_60", 0.98)],
)  # fmt: skip
def test_drawn_athlete_is_kept(name, least_seen, shared_clips):
    truth = np.load(shared_clips / f"{name}.npz")
    joints = list(truth["joints"])
    with open_clip(shared_clips / f"{name}.mp4") as clip:
        followed = follow_athlete(clip, BundledPose())
    drawn = truth["px"][followed.track.frame_index]
    hips = drawn[:, [joints.index("hip.L"), joints.index("hip.R")]].mean(axis=1)
    height_px = np.median(drawn[:, joints.index("ankle.L"), 1] - drawn[:, joints.index("nose"), 1])
    apart = np.hypot(*(hips_px(followed.track) - hips).T) / height_px
    assert np.nanmax(apart) < 0.15, "never on the other person"
    assert followed.seen_share >= least_seen
