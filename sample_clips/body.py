"""One invented person: lengths from stature, masses from de Leva's table.

Axes everywhere in this room: x to the athlete's left at the start, y up, z forward, in metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Sex = Literal["female", "male"]

# Segment lengths as fractions of stature: Drillis & Contini 1966, as quoted in Winter's
# "Biomechanics and motor control of human movement" (from memory).
SHANK, THIGH = 0.246, 0.245
ANKLE_HEIGHT = 0.039
FOOT_LENGTH, FOOT_BREADTH = 0.152, 0.055
HIP_TO_SHOULDER = 0.288
UPPER_ARM, FOREARM, HAND = 0.186, 0.146, 0.108
# Not in that table, chosen: joint centres lie inside the breadths of 0.191 and 0.259.
HALF_HIPS, HALF_SHOULDERS = 0.052, 0.106
SHOULDER_TO_NECK, NECK_TO_VERTEX = 0.035, 0.147

# de Leva 1996, J Biomech 29:1223, his alternative ends: mass as a fraction of the body's,
# centre of mass as a fraction of the way from the first end to the second.
SEGMENTS: dict[str, dict[Sex, tuple[float, float]]] = {
    "vertex-neck": {"female": (0.0668, 0.4841), "male": (0.0694, 0.5002)},
    "mid_shoulder-mid_hip": {"female": (0.4257, 0.3782), "male": (0.4346, 0.4310)},
    "shoulder-elbow": {"female": (0.0255, 0.5754), "male": (0.0271, 0.5772)},
    "elbow-wrist": {"female": (0.0138, 0.4559), "male": (0.0162, 0.4574)},
    "wrist-knuckle": {"female": (0.0056, 0.7474), "male": (0.0061, 0.7900)},
    "hip-knee": {"female": (0.1478, 0.3612), "male": (0.1416, 0.4095)},
    "knee-ankle": {"female": (0.0481, 0.4352), "male": (0.0433, 0.4395)},
    "heel-toe": {"female": (0.0129, 0.4014), "male": (0.0137, 0.4415)},
}
MIDLINE = ("vertex", "neck", "mid_shoulder", "mid_hip")


@dataclass(frozen=True)
class Body:
    """Stature (barefoot), sex and mass of one person, and what is on the feet."""

    stature_m: float
    sex: Sex
    mass_kg: float
    sole_m: float = 0.025
    """Thickness of the shoe's sole; 0 for bare feet."""
    shoe_margin_m: float = 0.012
    """How far the shoe reaches beyond the toes and the heel."""
    girth: float = 1.0
    """Thickness of limbs and trunk against the usual."""
    head_scale: float = 1.0
    """Larger than 1 for children."""

    @property
    def thigh_m(self) -> float:
        """Hip to knee."""
        return THIGH * self.stature_m

    @property
    def shank_m(self) -> float:
        """Knee to ankle."""
        return SHANK * self.stature_m

    @property
    def foot_m(self) -> float:
        """Heel to toe of the sole."""
        return FOOT_LENGTH * self.stature_m + 2 * self.shoe_margin_m

    @property
    def toes_m(self) -> float:
        """Length of the front part, from the hinge at the ball to the tip."""
        return 0.27 * self.foot_m

    @property
    def rear_foot_m(self) -> float:
        """Length of the rear part, from the heel to the hinge at the ball."""
        return self.foot_m - self.toes_m

    @property
    def ankle_ahead_m(self) -> float:
        """How far the ankle lies ahead of the heel's back edge."""
        return 0.25 * FOOT_LENGTH * self.stature_m + self.shoe_margin_m

    @property
    def ankle_above_m(self) -> float:
        """How far the ankle lies above the sole's lower face."""
        return ANKLE_HEIGHT * self.stature_m + self.sole_m
