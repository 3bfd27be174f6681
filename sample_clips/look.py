"""How an athlete looks: skin, hair, clothes and what is on the feet. Colours are blue-green-red."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Colour = tuple[float, float, float]

SKINS: tuple[Colour, ...] = (
    (150, 180, 225), (120, 155, 210), (95, 130, 185), (70, 100, 150), (48, 70, 110), (38, 52, 84),
)  # fmt: skip
HAIRS: tuple[Colour, ...] = (
    (20, 22, 28), (22, 28, 38), (30, 45, 70), (60, 95, 140), (95, 150, 190))
CLOTHS: tuple[Colour, ...] = (
    (40, 40, 45), (200, 200, 205), (170, 90, 40), (50, 50, 180), (60, 130, 60), (90, 90, 95),
    (40, 150, 220), (130, 60, 120), (120, 110, 60), (180, 160, 130),
)  # fmt: skip
SHOES: tuple[Colour, ...] = (
    (30, 30, 32), (215, 215, 218), (90, 90, 95), (40, 40, 190), (170, 80, 30), (60, 190, 200),
    (70, 110, 70), (120, 60, 140),
)  # fmt: skip
PATTERNS = ("plain", "rings", "sides", "blocks", "speckle")


@dataclass(frozen=True)
class Look:
    """Colours and cut of one athlete."""

    skin: Colour
    hair: Colour
    shirt: Colour
    shirt_accent: Colour
    shirt_pattern: str
    shorts: Colour
    shorts_length: float
    """Share of the leg that is covered, from the hip; 0.95 for leggings."""
    sleeve: float
    """Share of the arm that is covered."""
    shoe: Colour
    shoe_accent: Colour
    sole: Colour
    sock: Colour
    sock_height: float
    barefoot: bool
    long_hair: bool


def draw_look(rng: np.random.Generator, *, barefoot: bool | None = None) -> Look:
    """Pick a look at random."""

    def pick(colours: tuple[Colour, ...]) -> Colour:
        base = np.array(colours[rng.integers(len(colours))]) * rng.uniform(0.85, 1.1)
        b, g, r = np.clip(base, 12, 235)
        return float(b), float(g), float(r)

    skin = pick(SKINS)
    hair = pick(HAIRS[:2] if skin[2] < 160 else HAIRS)
    return Look(
        skin=skin, hair=hair, shirt=pick(CLOTHS), shirt_accent=pick(CLOTHS),
        shirt_pattern=str(rng.choice(PATTERNS)), shorts=pick(CLOTHS),
        shorts_length=float(rng.choice([0.28, 0.36, 0.42, 0.95])),
        sleeve=float(rng.choice([0.0, 0.25, 0.3, 0.9])), shoe=pick(SHOES),
        shoe_accent=pick(SHOES), sole=pick(((225, 228, 230), (40, 40, 42), (190, 200, 205))),
        sock=pick(((225, 225, 225), (40, 40, 44))), sock_height=float(rng.choice([0.06, 0.3, 0.5])),
        barefoot=bool(rng.random() < 0.2) if barefoot is None else barefoot,
        long_hair=bool(rng.random() < 0.5),
    )  # fmt: skip
