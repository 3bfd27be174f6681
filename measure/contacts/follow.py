"""Follow a forefoot patch from picture to picture over the known ground."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from measure.contacts.background import Picture
from measure.contacts.patch import Patch
from measure.contacts.sampling import find_corners, read_corners
from measure.contacts.stride import Stride
from measure.types import Floats

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
    iterations: int = 16
    most_pixels: int = 600
    """Of a larger patch evenly spread ones are looked at: more hardly move an event."""


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
    ground : ndarray of shape (H, W, 3)
        The bare ground.
    pictures : ndarray of shape (K, H, W, 3)
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
    """One patch over one background: its slopes and their products worked out once."""

    def __init__(
        self, patch: Patch, ground: Picture, px_per_m: float, settings: FollowSettings
    ) -> None:
        patch = _thinned(patch, settings.most_pixels)
        self.patch, self.settings, self.px_per_m = patch, settings, px_per_m
        self.ground = ground
        self.bare = (1 - patch.opacity).astype(np.float32)
        self.shoe = (patch.opacity * patch.colours).astype(np.float32)
        self.rim = np.flatnonzero(self.bare > 1e-3)
        self.rim_bare = self.bare[self.rim]
        self.across, self.down = np.ascontiguousarray((patch.points - patch.centre).T)
        self.centre_x, self.centre_y = patch.centre.tolist()
        self.slopes = _patch_slopes(patch, ground)
        pairs = [(0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2)]
        self.products = np.stack(
            [(self.slopes[..., i] * self.slopes[..., j]).sum(axis=1) for i, j in pairs]
        )

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
        misfits, shifts = [one.misfit for one in fits], [one.shift for one in fits]
        doubts = self._doubt(np.array(misfits), np.array(shifts), pose_shift)
        return fits[int(np.argmin(doubts))]

    def _scan(self, picture: Picture, last: _Fit, pose_shift: Floats, reach: float) -> list[Floats]:
        """The two best shifts of a coarse grid about the last place."""
        ups = np.arange(-reach, 0.5 * reach + 0.1, max(1.5, reach / 10))
        sides = np.arange(-0.4 * reach, 0.4 * reach + 0.1, max(1.5, reach / 6))
        grid = np.stack(np.meshgrid(sides, ups), axis=-1).reshape(-1, 2)
        shifts = last.shift + grid
        misfits = self._misfits(picture, shifts, last.turn)
        doubts = self._doubt(misfits, shifts, pose_shift)
        return [shifts[i] for i in np.argsort(doubts)[:2]]

    def _doubt(self, misfits: Floats, shifts: Floats, pose_shift: Floats) -> Floats:
        """Misfit, made worse away from pose's toe and below the floor, shape (S,)."""
        away_m = np.hypot(*(shifts - pose_shift).T) / self.px_per_m
        below_m = shifts[:, 1] / self.px_per_m
        doubt = misfits * (1 + np.minimum(0.25 * (away_m / self.settings.pose_trust_m) ** 2, 0.5))
        doubts: Floats = doubt + np.maximum(0.0, 200 * (below_m - 0.02))
        return doubts

    def _misfits(self, image: Picture, shifts: Floats, turn: float) -> Floats:
        """Misfit of each shift at every third pixel of the patch, to whole pixels, shape (S,)."""
        few = slice(None, None, 3)
        height, width, channels = image.shape
        x, y = self._places(0.0, 0.0, turn, few)
        columns = np.rint(x + shifts[:, :1]).astype(np.int64)
        rows = np.rint(y + shifts[:, 1:]).astype(np.int64)
        columns = np.minimum(np.maximum(columns, 0), width - 1)
        rows = np.minimum(np.maximum(rows, 0), height - 1)
        pixels = (rows * width + columns).ravel()
        seen = image.reshape(-1, channels).take(pixels, axis=0)
        ground = self.ground.reshape(-1, channels).take(pixels, axis=0)
        shape = (len(shifts), -1, channels)
        away = seen.reshape(shape) - self.bare[few] * ground.reshape(shape) - self.shoe[few]
        misfits: Floats = _capped(np.einsum("spc,spc->sp", away, away)).mean(axis=1)
        return misfits

    def _refine(self, picture: Picture, shift: Floats, turn: float) -> _Fit:
        """Gauss-Newton on shift and turn with robust weights."""
        right, down = shift.tolist()
        stride = Stride()
        for _ in range(self.settings.iterations):
            corners = find_corners(*self._places(right, down, turn), picture)
            away = read_corners(picture, corners)
            away -= self.shoe
            away[self.rim] -= self.rim_bare * read_corners(self.ground, corners.of(self.rim))
            squared = np.einsum("pc,pc->p", away, away)
            step = stride.lengthened(self._step(away, squared, turn))
            ahead, aside, turned = step.tolist()
            cos, sin = math.cos(turn), math.sin(turn)
            right += cos * ahead - sin * aside
            down += sin * ahead + cos * aside
            turn += turned
            if max(abs(ahead), abs(aside)) < 0.02:
                break
        return _Fit(np.array([right, down]), turn, float(_capped(squared).mean()))

    def _places(
        self, right: float, down: float, turn: float, some: slice = slice(None)
    ) -> tuple[Floats, Floats]:
        """Turned and shifted pixels; across and down apart: numpy is slow along an axis of two."""
        cos, sin = math.cos(turn), math.sin(turn)
        x, y = self.across[some], self.down[some]
        return (
            cos * x - sin * y + (self.centre_x + right), sin * x + cos * y + (self.centre_y + down)
        )  # fmt: skip

    def _step(self, away: Picture, squared: Picture, turn: float) -> Floats:
        """One step, in the patch's own turned frame, from how far each pixel is away."""
        size = np.sqrt(squared / 3)
        weight = np.minimum(1.0, max(2.22 * _median(size), 5.0) / np.maximum(size, 1e-6))
        xx, xy, yy, xt, yt, tt = (self.products @ weight).tolist()
        normal = np.array([[xx, xy, xt], [xy, yy, yt], [xt, yt, tt]]) + TINY
        gradient = ((away * weight[:, None]).ravel() @ self.slopes.reshape(-1, 3)).astype(float)
        noise = max(float(weight @ squared) / (3 * len(weight)), 4.0)
        normal[2, 2] += noise / self.settings.turn_sigma_rad**2
        gradient[2] += turn * noise / self.settings.turn_sigma_rad**2
        step: Floats = -np.linalg.solve(normal, gradient)
        return step


def _thinned(patch: Patch, most: int) -> Patch:
    """Leave out pixels evenly."""
    count = len(patch.points)
    kept = np.linspace(0, count - 1, min(most, count)).round().astype(int)
    return replace(
        patch, points=patch.points[kept], colours=patch.colours[kept],
        opacity=patch.opacity[kept], shoe_slopes=patch.shoe_slopes[kept],
        opacity_slopes=patch.opacity_slopes[kept],
    )  # fmt: skip


def _patch_slopes(patch: Patch, ground: Picture) -> Picture:
    """How a pixel changes as the patch moves right, down and turns clockwise, shape (P, 3, 3).

    Read from the standing picture, once: of the shoe's own colours, and at its rim of what it
    uncovers. Slopes of every picture would cost far more and lead to the same places.
    """
    columns, rows = patch.points.astype(np.int64).T
    uncovered = ground[rows, columns][:, :, None] * patch.opacity_slopes[:, None, :]
    right, down = np.moveaxis(patch.shoe_slopes - uncovered, -1, 0)
    x, y = (patch.points - patch.centre).T[:, :, None]
    clockwise = x * down - y * right
    return np.asarray(np.stack([right, down, clockwise], axis=-1), dtype=np.float32)


def _median(values: Picture) -> float:
    """Middle value; numpy's own spends most of its time on checks."""
    middle = values.shape[0] // 2
    ordered = np.partition(values, (middle - 1, middle))
    if values.shape[0] % 2:
        return float(ordered[middle])
    return float(ordered[middle - 1] + ordered[middle]) / 2


def _capped(squared: Picture, cap: float = 75.0) -> Picture:
    """Root mean square over the three colours, from their squared sum."""
    sizes: Picture = np.minimum(np.sqrt(squared / 3), np.float32(cap))
    return sizes
