"""Pictures shown more than once: how often, in which pattern, and whether it stays the same.

A clip that was slowed by an editor, or written faster than it was filmed, shows each captured
picture two to four times. Between two showings nothing moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import percentile_filter

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class RepeatSettings:
    """Tunables of `find_repeats`."""

    repeat_ratio: float = 0.3
    """A picture that changes less than this share of what its neighbours do is a repeat."""
    dip_ratio: float = 0.4
    """And less than this share of what the new pictures on both its sides do: a movement that turns
    round slows down over several pictures."""
    neighbourhood: int = 17
    """Pictures over which neighbours are compared: room for each shown four times."""
    neighbour_percentile: float = 88.0
    """Of the changes around, the one that stands for a new picture."""
    moving_share: float = 0.25
    """Something moves where that change exceeds this share of the clip's strong ones. Elsewhere
    an athlete who stands still and a repeat look alike, and neither is judged."""
    window: int = 15
    """Pictures over which the cadence is taken."""
    regular_share: float = 0.75
    """The cadence is regular where this share of the pictures is shown equally often."""
    stray_share: float = 0.05
    """Fewer pictures than this shown twice are a phone's slips, not a cadence."""
    cadence_ratio: float = 1.4
    """Sections whose pictures are shown this many times as often as others' differ."""


@dataclass(frozen=True, slots=True)
class CadenceSection:
    """A stretch of moving pictures shown equally often."""

    start_file_s: float
    end_file_s: float
    showings: float
    """How often each picture is shown, 1 for no repeats."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """What is known about repeated pictures."""

    repeated: Flags
    """Shape (T,); True where a picture shows the one before again."""
    moving: Flags
    """Shape (T,); True where something moves, so that ``repeated`` could be judged."""
    share: float
    """Share of repeats among the moving pictures; 0 where nothing moves."""
    showings: float
    """How often each picture is shown on average while something moves."""
    regular: bool
    """Every picture is shown equally often."""
    interval_file_s: float
    """Mean interval between different pictures while something moves: the grain of all times."""
    sections: tuple[CadenceSection, ...]
    """Stretches of different cadence; one or none where it stays the same."""

    @property
    def mixed(self) -> bool:
        """Tell whether the cadence changes along the clip."""
        return len(self.sections) > 1


def find_repeats(
    file_time_s: Floats,
    *,
    motion_level: Floats,
    settings: RepeatSettings | None = None,
) -> Repeats:
    """Find repeated pictures from how much each differs from the one before.

    Parameters
    ----------
    file_time_s : ndarray of shape (T,)
        Stamps of all pictures.
    motion_level : ndarray of shape (T - 1,)
        Change from picture k to k + 1 in the parts that change most, any unit. The change of
        quiet parts is no use: encoders copy them.
    settings : RepeatSettings, optional

    Returns
    -------
    Repeats

    Notes
    -----
    *When this is wrong*: an editor that blends pictures or invents new ones leaves no repeats;
    only gravity sees those. A camera that pans hides nothing, it makes every part move.
    """
    settings = settings or RepeatSettings()
    if file_time_s.ndim != 1 or motion_level.shape != (max(file_time_s.size - 1, 0),):
        raise ValueError(
            f"motion_level: expected shape ({file_time_s.size - 1},), got {motion_level.shape}"
        )
    if file_time_s.size < 3:
        return _nothing_known(file_time_s)
    level = percentile_filter(
        motion_level, settings.neighbour_percentile, size=settings.neighbourhood, mode="nearest"
    )
    moves = level > settings.moving_share * np.percentile(level, 95)
    same = moves & (motion_level < settings.repeat_ratio * level)
    same &= _isolated_dip(motion_level, same, level, settings)
    share = float(same[moves].mean()) if moves.any() else 0.0
    usual = _regular_showings(same, moves, settings)
    showings = 1 / (1 - share) if usual is None else float(usual)
    interval_s = float(np.median(np.diff(file_time_s)))
    return Repeats(
        repeated=np.concatenate([[False], same]),
        moving=np.concatenate([moves[:1], moves]),
        share=share,
        showings=showings,
        regular=usual is not None,
        interval_file_s=interval_s * showings,
        sections=_sections(file_time_s, same, moves, settings),
    )


def _nothing_known(file_time_s: Floats) -> Repeats:
    none = np.zeros(file_time_s.shape, dtype=np.bool_)
    interval_s = float(np.diff(file_time_s).mean()) if file_time_s.size > 1 else 0.0
    return Repeats(none, none, 0.0, 1.0, True, interval_s, ())


def _isolated_dip(
    motion: Floats, same: Flags, level: Floats, settings: RepeatSettings
) -> Flags:  # fmt: skip
    """Tell repeats from a slow fading of motion: a new picture stands sharply beside them.

    On both sides: before an athlete who sets off from standing still nothing moves either, and a
    clip may begin or end with it.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], same.astype(np.int8), [0]])))
    keep = np.zeros_like(same)
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if first == 0 or after == motion.size or after - first >= settings.neighbourhood // 2:
            continue
        inside = float(motion[first:after].max())
        least = max(inside / settings.dip_ratio, settings.repeat_ratio * float(level[first]))
        keep[first:after] = least < min(motion[first - 1], motion[after])
    return keep


def _showings(same: Flags) -> NDArray[np.int64]:
    """How often each picture is shown; the first and last, cut off by the edges, left out."""
    new = np.flatnonzero(~same)
    return np.diff(new)


def _regular_showings(same: Flags, moves: Flags, settings: RepeatSettings) -> int | None:
    """Number of showings that nearly every picture has, or None where it varies.

    Where motion pauses a repeat is not told apart, so a few may seem to be shown once.
    """
    shown = _showings(same[moves])
    if shown.size < 3 or np.mean(shown > 1) < settings.stray_share:
        return 1
    usual = int(np.median(shown))
    return usual if usual > 1 and np.mean(shown == usual) > settings.regular_share else None


def _sections(
    file_time_s: Floats, same: Flags, moves: Flags, settings: RepeatSettings
) -> tuple[CadenceSection, ...]:
    """Cut the moving pictures where their cadence changes for good."""
    rows = np.flatnonzero(moves)
    if rows.size < 2 * settings.window:
        return ()
    cuts = _cuts(same[rows].astype(np.float64), settings)
    sections = []
    for first, after in zip([0, *cuts], [*cuts, rows.size], strict=True):
        part = rows[first:after]
        share = float(same[part].mean())
        sections.append(
            CadenceSection(
                float(file_time_s[part[0]]), float(file_time_s[part[-1] + 1]), 1 / (1 - share)
            )
        )
    return tuple(sections)


def _cuts(same: Floats, settings: RepeatSettings) -> list[int]:
    """Split at the place that separates two cadences best, again and again."""
    least = settings.window
    if same.size < 2 * least:
        return []
    total = np.concatenate([[0.0], np.cumsum(same)])
    places = np.arange(least, same.size - least + 1)
    before = total[places] / places
    after = (total[-1] - total[places]) / (same.size - places)
    gain = places * (same.size - places) / same.size * (before - after) ** 2
    best = int(np.argmax(gain))
    ratio = (1 - before[best]) / max(1 - after[best], 1e-9)
    if max(ratio, 1 / max(ratio, 1e-9)) < settings.cadence_ratio or gain[best] < 1.0:
        return []
    cut = int(places[best])
    left, right = _cuts(same[:cut], settings), _cuts(same[cut:], settings)
    return [*left, cut, *(cut + place for place in right)]
