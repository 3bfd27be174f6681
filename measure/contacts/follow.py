"""Follow a forefoot patch from picture to picture over the known ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from measure.contacts.background import Picture
from measure.contacts.patch import Patch
from measure.types import Floats

LONGEST_STEP = np.array([2.0, 2.0, 0.15])
"""Pixels right and down, radians, in one step of the search."""
SAME_PX = 1.5
"""A search that starts nearer to where another one ended ends there as well."""
TINY = 1e-3 * np.eye(3)
"""Keeps the equations solvable where a patch is plain."""


@dataclass(frozen=True, slots=True)
class PatchPath:
    """Where the patch went, relative to the standing picture; rows in time order."""

    time_s: Floats
    """Shape (K,)."""
    shift_px: Floats
    """Shape (K, 2), x right and y down."""
    turn_rad: Floats
    """Shape (K,), clockwise in the picture positive."""
    misfit: Floats
    """Shape (K,): mean grey levels between picture and model."""
    reference_row: int


@dataclass(frozen=True, slots=True)
class FollowSettings:
    """How the search goes."""

    fastest_mps: float = 4.6
    turn_sigma_rad: float = 0.12
    """How far a forefoot turns about its middle near an event."""
    pose_trust_m: float = 0.06
    """Distance from pose's toe at which a solution looks doubtful."""
    far_up_m: float = 0.30
    """Higher than this the event is over."""
    iterations: int = 10


@dataclass(frozen=True, slots=True)
class _Fit:
    shift: Floats
    turn: float
    misfit: float


def follow_patch(
    patch: Patch, ground: Picture, pictures: Picture, *,
    time_s: Floats, pose_shift_px: Floats, reference_row: int, px_per_m: float,
    settings: FollowSettings | None = None,
) -> PatchPath:  # fmt: skip
    """Follow the patch away from the standing picture, forwards and backwards in time.

    Parameters
    ----------
    patch : Patch
    ground : ndarray of shape (H, W, 9)
        The bare ground with its slopes, from :func:`with_slopes`.
    pictures : ndarray of shape (K, H, W, 9)
        The same of every picture.
    time_s : ndarray of shape (K,)
    pose_shift_px : ndarray of shape (K, 2)
        Way of pose's toe since the standing picture: a weak, capped hint.
    reference_row : int
        Row of the standing picture.
    px_per_m : float
    settings : FollowSettings, optional

    Returns
    -------
    PatchPath
        Without the rows beyond which the foot is far up.
    """
    search = _Search(patch, ground, px_per_m, settings or FollowSettings())
    fits = {reference_row: _Fit(np.zeros(2), 0.0, 0.0)}
    for rows in (range(reference_row + 1, len(time_s)), range(reference_row - 1, -1, -1)):
        _follow_one_way(search, fits, rows, pictures, time_s, pose_shift_px, reference_row)
    rows_done = sorted(fits)
    return PatchPath(
        time_s=time_s[rows_done],
        shift_px=np.array([fits[row].shift for row in rows_done]),
        turn_rad=np.array([fits[row].turn for row in rows_done]),
        misfit=np.array([fits[row].misfit for row in rows_done]),
        reference_row=rows_done.index(reference_row),
    )


def _follow_one_way(
    search: _Search, fits: dict[int, _Fit], rows: range, pictures: Picture, time_s: Floats,
    pose_shift_px: Floats, reference_row: int,
) -> None:  # fmt: skip
    trail = [reference_row]
    for row in rows:
        last = fits[trail[-1]]
        step_s = abs(float(time_s[row] - time_s[trail[-1]]))
        predicted = last.shift
        if len(trail) > 1:
            before = fits[trail[-2]]
            lag_s = abs(float(time_s[trail[-1]] - time_s[trail[-2]]))
            predicted = last.shift + (last.shift - before.shift) / lag_s * step_s
        fits[row] = search.find(
            pictures[row], last=last, predicted=predicted, pose_shift=pose_shift_px[row],
            step_s=step_s, first=len(trail) == 1,
        )  # fmt: skip
        trail.append(row)
        if -fits[row].shift[1] > search.settings.far_up_m * search.px_per_m:
            break


class _Search:
    """One patch over one background: gradients and priors worked out once."""

    def __init__(
        self, patch: Patch, ground: Picture, px_per_m: float, settings: FollowSettings
    ) -> None:
        self.patch, self.settings, self.px_per_m = patch, settings, px_per_m
        self.ground = ground
        self.bare = (1 - patch.opacity).astype(np.float32)
        self.shoe = (patch.opacity * patch.colours).astype(np.float32)
        # A coarse scan looks at every third pixel and needs no slopes.
        self.plain_ground = np.ascontiguousarray(ground[..., :3])

    def find(
        self, picture: Picture, *, last: _Fit, predicted: Floats, pose_shift: Floats,
        step_s: float, first: bool,
    ) -> _Fit:  # fmt: skip
        """Find the patch in one picture, near the prediction or else anywhere in reach."""
        unit = self.px_per_m
        fit = self._refine(picture, predicted, last.turn)
        reach = max(2.0, self.settings.fastest_mps * step_s * unit)
        smooth = float(np.hypot(*(fit.shift - predicted))) < 0.25 * reach + 1.5
        near_pose = float(np.hypot(*(fit.shift - pose_shift))) / unit < 0.05
        if not first and smooth and near_pose and fit.misfit < 1.25 * last.misfit + 1.0:
            return fit
        starts = [last.shift, pose_shift, *self._scan(picture, last, pose_shift, reach)]
        fits = [fit]
        for start in starts:
            if all(np.hypot(*(start - one.shift)) > SAME_PX for one in fits):
                fits.append(self._refine(picture, start, last.turn))
        return min(fits, key=lambda one: self._doubt(one.misfit, one.shift, pose_shift))

    def _scan(
        self, picture: Picture, last: _Fit, pose_shift: Floats, reach: float
    ) -> list[Floats]:
        """The two best shifts of a coarse grid about the last place."""
        ups = np.arange(-reach, 0.5 * reach + 0.1, max(1.5, reach / 10))
        sides = np.arange(-0.4 * reach, 0.4 * reach + 0.1, max(1.5, reach / 6))
        grid = np.stack(np.meshgrid(sides, ups), axis=-1).reshape(-1, 2)
        shifts = last.shift + grid
        misfits = self._misfits(np.ascontiguousarray(picture[..., :3]), shifts, last.turn)
        doubts = [
            self._doubt(float(misfit), shift, pose_shift)
            for misfit, shift in zip(misfits, shifts, strict=True)
        ]
        return [shifts[i] for i in np.argsort(doubts)[:2]]

    def _doubt(self, misfit: float, shift: Floats, pose_shift: Floats) -> float:
        """Misfit, made worse away from pose's toe and below the floor."""
        away_m = float(np.hypot(*(shift - pose_shift))) / self.px_per_m
        below_m = float(shift[1]) / self.px_per_m
        doubt = misfit * (1 + min(0.25 * (away_m / self.settings.pose_trust_m) ** 2, 0.5))
        return doubt + max(0.0, 200 * (below_m - 0.02))

    def _misfits(self, image: Picture, shifts: Floats, turn: float) -> Floats:
        """Misfit of each shift at every third pixel of the patch, shape (S,)."""
        few = slice(None, None, 3)
        turned = turned_places(
            self.patch.points[few], self.patch.centre, shift=np.zeros(2), turn=turn
        )
        places = (turned + shifts[:, None]).reshape(-1, 2)
        seen, ground = sample_all((image, self.plain_ground), places)
        shape = (len(shifts), -1, 3)
        model = self.shoe[few] + self.bare[few] * ground.reshape(shape)
        sizes = _capped_sizes((seen.reshape(shape) - model).reshape(-1, 3))
        misfits: Floats = sizes.reshape(shape[:2]).mean(axis=1)
        return misfits

    def _refine(self, picture: Picture, shift: Floats, turn: float) -> _Fit:
        """Gauss-Newton on shift and turn with robust weights."""
        shift = np.array(shift, dtype=float)
        for _ in range(self.settings.iterations):
            places = turned_places(
                self.patch.points, self.patch.centre, shift=shift, turn=turn
            )
            # Picture less what the ground shows through: value and both slopes in one go.
            seen, ground = sample_all((picture, self.ground), places)
            seen -= self.bare * ground
            seen[:, :3] -= self.shoe
            step = self._step(seen, places - (self.patch.centre + shift), turn)
            shift, turn = shift + step[:2], turn + float(step[2])
            if np.abs(step[:2]).max() < 0.02:
                break
        return _Fit(shift, turn, float(_capped_sizes(seen[:, :3]).mean()))

    def _step(self, seen: Picture, arm: Floats, turn: float) -> Floats:
        """One step from each pixel's residual and its slopes to the right and down."""
        residual, right, down = np.ascontiguousarray(seen.T).reshape(3, 3, -1)
        squared = _dot(residual, residual)
        size = np.sqrt(squared / 3)
        weight = np.minimum(1.0, max(2.22 * _median(size), 5.0) / np.maximum(size, 1e-6))
        # A turn moves a pixel square to its arm (x, y), so its slope is x · down - y · right and
        # every sum follows from products over the colours: no slopes are multiplied out.
        x, y = arm.T
        by_x, by_y = weight * x, weight * y
        shares = np.array([weight, by_x, by_y, by_x * x, by_x * y, by_y * y])
        products = np.array([
            _dot(right, right), _dot(right, down), _dot(down, down),
            _dot(right, residual), _dot(down, residual),
        ])  # fmt: skip
        one, by_x, by_y, by_xx, by_xy, by_yy = shares @ products.T
        normal = np.array([
            [one[0], one[1], by_x[1] - by_y[0]],
            [one[1], one[2], by_x[2] - by_y[1]],
            [by_x[1] - by_y[0], by_x[2] - by_y[1], by_xx[2] - 2 * by_xy[1] + by_yy[0]],
        ]) + TINY  # fmt: skip
        gradient = np.array([one[3], one[4], by_x[4] - by_y[3]])
        noise = max(float(weight @ squared) / (3 * len(weight)), 4.0)
        normal[2, 2] += noise / self.settings.turn_sigma_rad**2
        gradient[2] += turn * noise / self.settings.turn_sigma_rad**2
        step: Floats = np.linalg.solve(normal, gradient)
        return np.minimum(np.maximum(-step, -LONGEST_STEP), LONGEST_STEP)


def _dot(one: Picture, other: Picture) -> Picture:
    """Product of each pixel summed over the three colours, (3, P) to (P,)."""
    red, green, blue = one * other
    product: Picture = red + green + blue
    return product


def _median(values: Picture) -> float:
    """Middle value; numpy's own spends most of its time on checks."""
    middle = values.shape[0] // 2
    ordered = np.partition(values, (middle - 1, middle))
    if values.shape[0] % 2:
        return float(ordered[middle])
    return float(ordered[middle - 1] + ordered[middle]) / 2


def _capped_sizes(residual: Picture, cap: float = 75.0) -> Picture:
    """Root mean square of each pixel's colours, shape (P,)."""
    sizes: Picture = np.minimum(np.sqrt(_dot(residual.T, residual.T) / 3), np.float32(cap))
    return sizes


def sample(image: Picture, places: Floats) -> Picture:
    """Straight interpolation of an image at places, edges repeated.

    Parameters
    ----------
    image : ndarray of shape (H, W, C)
    places : ndarray of shape (P, 2)
        x and y, pixel centres at whole numbers.

    Returns
    -------
    ndarray of shape (P, C)
    """
    return sample_all((image,), places)[0]


def sample_all(images: Sequence[Picture], places: Floats) -> list[Picture]:
    """The same of several images of one size."""
    height, width, channels = images[0].shape
    x = np.minimum(np.maximum(places[:, 0], 0), width - 1.001)
    y = np.minimum(np.maximum(places[:, 1], 0), height - 1.001)
    left, top = x.astype(np.int64), y.astype(np.int64)
    share_x = (x - left).astype(np.float32)[:, None]
    share_y = (y - top).astype(np.float32)[:, None]
    first = top * width + left
    sampled = []
    for image in images:
        flat = image.reshape(-1, channels)
        upper, lower = flat.take(first, axis=0), flat.take(first + width, axis=0)
        upper += (flat.take(first + 1, axis=0) - upper) * share_x
        lower += (flat.take(first + width + 1, axis=0) - lower) * share_x
        upper += (lower - upper) * share_y
        sampled.append(upper)
    return sampled


def turned_places(points: Floats, centre: Floats, *, shift: Floats, turn: float) -> Floats:
    """Turn points about a centre and shift them, shape (P, 2)."""
    cos, sin = np.cos(turn), np.sin(turn)
    turn_matrix = np.array([[cos, sin], [-sin, cos]])
    places: Floats = (points - centre) @ turn_matrix + (centre + shift)
    return places


def with_slopes(pictures: Picture) -> Picture:
    """Put each picture's change per pixel to the right and downwards beside it.

    Parameters
    ----------
    pictures : ndarray of shape (..., H, W, 3)

    Returns
    -------
    ndarray of shape (..., H, W, 9)
    """
    sloped: Picture = np.empty((*pictures.shape[:-1], 9), np.float32)
    for index in np.ndindex(pictures.shape[:-3]):  # one at a time stays in the processor's cache
        _add_slopes(pictures[index], sloped[index])
    return sloped


def _add_slopes(picture: Picture, sloped: Picture) -> None:
    # Smoothed across the slope only: colours must not mix.
    height, width = picture.shape[:2]
    edged = np.pad(picture, [(1, 1), (1, 1), (0, 0)], "edge")
    right = edged[:, 2:] - edged[:, :-2]
    down = edged[2:] - edged[:-2]
    sloped[..., :3] = picture
    sloped[..., 3:6] = _smoothed([right[k : k + height] for k in range(3)])
    sloped[..., 6:] = _smoothed([down[:, k : k + width] for k in range(3)])


def _smoothed(neighbours: Sequence[Picture]) -> Picture:
    """Half of the weighted mean: a slope is half the step over two pixels."""
    before, here, after = neighbours
    smoothed: Picture = here * np.float32(2)
    smoothed += before
    smoothed += after
    smoothed *= np.float32(0.125)
    return smoothed
