"""The bundled networks on pictures with a known answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from measure.io.pose import Region, Restful, region_from_axis
from measure.io.pose_landmarks import BundledPose
from measure.io.read import open_clip
from measure.types import Landmark


@pytest.fixture(scope="module")
def model() -> BundledPose:
    return BundledPose()


@dataclass(frozen=True)
class GreyWall:
    """A picture of nothing."""

    width_px: int = 640
    height_px: int = 480

    def warp(self, upright_from_crop, *, size_px):
        return np.full((size_px, size_px, 3), 128, dtype=np.uint8)


def test_nobody_on_a_grey_wall(model):
    assert model.detect(GreyWall()) == []
    assert model.landmarks(GreyWall(), Region((320.0, 240.0), 300.0)) is None


def test_a_model_at_rest_holds_no_network_and_wakes_up():
    model = BundledPose()
    assert isinstance(model, Restful)
    for _ in range(2):
        assert model.landmarks(GreyWall(), Region((320.0, 240.0), 300.0)) is None
        assert len(model._landmarks._idle) == 1
        model.rest()
        assert model._landmarks._idle == []


def test_loading_writes_nothing(capfd):
    BundledPose()
    heard = capfd.readouterr()
    assert heard.out == heard.err == ""


def test_name_holds_the_hash_of_the_weights(model):
    name, digest = model.name.split("/")
    assert name == "mediapipe_pose_full"
    assert len(digest) == 12


@pytest.mark.clips
@pytest.mark.parametrize("name", ["vertical_front_60", "vertical_portrait_60"])
def test_joints_are_where_they_were_drawn(model, name, shared_clips):
    truth = np.load(shared_clips / f"{name}.npz")
    with open_clip(shared_clips / f"{name}.mp4") as clip:
        frame = next(clip.frames(wanted=[20]))
        pose = model.landmarks(frame, model.detect(frame)[0])
        pose = model.landmarks(frame, region_from_axis(pose.axis_px))
    joint = {joint: truth["px"][20, k] for k, joint in enumerate(truth["joints"])}
    height_px = joint["ankle.L"][1] - joint["nose"][1]
    for drawn, point in (("hip.L", Landmark.LEFT_HIP), ("hip.R", Landmark.RIGHT_HIP),
                         ("knee.L", Landmark.LEFT_KNEE), ("knee.R", Landmark.RIGHT_KNEE),
                         ("ankle.L", Landmark.LEFT_ANKLE), ("ankle.R", Landmark.RIGHT_ANKLE),
                         ("nose", Landmark.NOSE)):  # fmt: skip
        assert np.hypot(*(pose.px[point] - joint[drawn])) < 0.05 * height_px, drawn


@pytest.mark.clips
def test_crop_adds_no_shift_of_its_own(model, shared_clips):
    """A picture and its mirror image give mirrored poses: no half pixel is lost on the way."""

    @dataclass(frozen=True)
    class Mirrored:
        frame: object
        width_px: int
        height_px: int

        def warp(self, upright_from_crop, *, size_px):
            flip = np.diag([-1.0, 1.0])
            matrix = flip @ upright_from_crop
            matrix[0, 2] += self.width_px
            return self.frame.warp(matrix, size_px=size_px)

    order = list(range(33))
    for left, right in [
        (1, 4),
        (2, 5),
        (3, 6),
        (7, 8),
        (9, 10),
        *((k, k + 1) for k in range(11, 33, 2)),
    ]:
        order[left], order[right] = right, left
    shifts = []
    with open_clip(shared_clips / "vertical_front_60.mp4") as clip:
        for frame in clip.frames(wanted=range(0, 180, 12)):
            region = model.detect(frame)[0]
            pose = model.landmarks(frame, region)
            mirrored = Mirrored(frame, frame.width_px, frame.height_px)
            turned = Region(
                (frame.width_px - region.centre_px[0], region.centre_px[1]),
                region.size_px, -region.angle_rad,
            )  # fmt: skip
            other = model.landmarks(mirrored, turned)
            both = (pose.px[:, 0] - (frame.width_px - other.px[order, 0])) / 2
            shifts.append(both / (region.size_px / 256))
    # In pixels of the crop. Pixel corners taken for pixel middles would show as half of one.
    assert abs(np.median(shifts)) < 0.15
