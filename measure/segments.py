"""Mass and centre of each body segment, after de Leva 1996.

Fractions of body mass, and place of the segment's centre from its first-named end as a fraction
of its length: P. de Leva, J Biomech 29 (1996) 1223-1230, doi:10.1016/0021-9290(95)00178-6.
Means of young adults, mostly students of sport; a child's legs are relatively lighter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Sex = Literal["female", "male"]


@dataclass(frozen=True, slots=True)
class Segment:
    """A rigid piece of the body between two named ends."""

    first_end: str
    second_end: str
    mass_fraction: float
    """Of the whole body."""
    centre_fraction: float
    """Of the length, from the first end."""


_LIMB_ENDS = {
    "upper_arm": ("shoulder", "elbow"),
    "forearm": ("elbow", "wrist"),
    "hand": ("wrist", "knuckle"),
    "thigh": ("hip", "knee"),
    "shank": ("knee", "ankle"),
    "foot": ("heel", "toe"),
}
_TRUNK_ENDS = {"head": ("vertex", "neck"), "trunk": ("mid_shoulder", "mid_hip")}

# Head from vertex to cervicale, trunk from mid-shoulder to mid-hip, hand from wrist to the third
# knuckle, foot from heel to toe tip: the forms of the table whose ends a camera sees.
_FEMALE = {
    "head": (0.0668, 0.4841), "trunk": (0.4257, 0.3782), "upper_arm": (0.0255, 0.5754),
    "forearm": (0.0138, 0.4559), "hand": (0.0056, 0.7474), "thigh": (0.1478, 0.3612),
    "shank": (0.0481, 0.4352), "foot": (0.0129, 0.4014),
}  # fmt: skip
_MALE = {
    "head": (0.0694, 0.5002), "trunk": (0.4346, 0.4310), "upper_arm": (0.0271, 0.5772),
    "forearm": (0.0162, 0.4574), "hand": (0.0061, 0.7900), "thigh": (0.1416, 0.4095),
    "shank": (0.0433, 0.4395), "foot": (0.0137, 0.4415),
}  # fmt: skip


def list_segments(sex: Sex | None) -> tuple[Segment, ...]:
    """Give the body's segments with both sides' limbs.

    Parameters
    ----------
    sex : {"female", "male"} or None
        None for the mean of both tables. The wrong table moves a standing body's centre by
        5.5 mm, and its rise in a jump by far less.

    Returns
    -------
    tuple of Segment
        Ends of limbs carry their side: ``left_hip`` to ``left_knee``. The masses need not add
        up to one: divide by their sum.

    Raises
    ------
    ValueError
        For another word.
    """
    tables = {"female": (_FEMALE,), "male": (_MALE,), None: (_FEMALE, _MALE)}
    if sex not in tables:
        raise ValueError(f"sex: expected 'female', 'male' or None, got {sex!r}")
    chosen = tables[sex]
    segments = []
    for name in _FEMALE:
        mass, centre = (sum(table[name][k] for table in chosen) / len(chosen) for k in (0, 1))
        segments += [Segment(*ends, mass, centre) for ends in _ends_of(name)]
    return tuple(segments)


def _ends_of(name: str) -> list[tuple[str, str]]:
    if name in _TRUNK_ENDS:
        return [_TRUNK_ENDS[name]]
    first, second = _LIMB_ENDS[name]
    return [(f"{side}_{first}", f"{side}_{second}") for side in ("left", "right")]
