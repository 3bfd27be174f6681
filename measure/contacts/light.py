"""A lamp that flickers: take out by how much it lights each picture more or less.

Lamps on mains light up a hundred times a second and more. A phone reads the rows of a picture one
after the other, so that in fast films of a hall bright and dark bands run through the picture:
upright ones where the phone stands upright.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from measure.contacts.background import Picture
from measure.types import Floats

__all__ = ["flickers", "in_even_light", "light_on"]

LEAST_FLICKER = 0.05
"""Deviation of the light from picture to picture that is worth taking out: a foot is followed well
in half of that, and where people pass by the light is told less well."""
DARK_GREY = 8.0
"""Added before two pictures are divided: the darkest grey levels are noise."""
STEP_PX = 4
"""One of so many pixels each way is enough to tell the light."""
ROUNDS, WIDEST, OUTSIDE = 8, 0.04, 2.5
"""Pixels that differ from the light told last by this, or so many deviations, are not ground."""


def light_on(pictures: Picture, ground: Picture) -> Floats:
    """How much more light each picture has than the ground's, as it changes across it.

    Parameters
    ----------
    pictures : ndarray of shape (K, H, W, 3)
    ground : ndarray of shape (H, W, 3)
        The same place in the middle light, bare.

    Returns
    -------
    ndarray of shape (K, 6)
        A parabola across the picture: a band is higher than the surroundings of a foot. By the
        pixels that most of the picture agrees with, as legs and shadows do not.
    """
    terms = _terms(ground.shape[0], ground.shape[1])[::STEP_PX, ::STEP_PX].reshape(-1, 6)
    light = np.empty((len(pictures), 6))
    for number, ratio in enumerate(_ratios(pictures, ground)):
        told = np.array([float(np.median(ratio)), 0, 0, 0, 0, 0])
        for _ in range(ROUNDS):
            off = np.abs(ratio - terms @ told)
            agree = off < max(WIDEST, OUTSIDE * float(np.median(off)))
            told = np.linalg.lstsq(terms[agree], ratio[agree], rcond=None)[0]
        light[number] = told
    return light


def flickers(pictures: Picture, ground: Picture) -> bool:
    """Tell whether the light changes from picture to picture; arguments as in `light_on`."""
    return bool(np.std([np.median(ratio) for ratio in _ratios(pictures, ground)]) > LEAST_FLICKER)


def in_even_light(pictures: Picture, light: Floats) -> Picture:
    """Take the light, shape (K, 6), out of pictures of shape (K, H, W, 3)."""
    terms = _terms(pictures.shape[1], pictures.shape[2])
    even = np.empty_like(pictures)
    for picture, told, target in zip(pictures, light, even, strict=True):
        gain = np.maximum(terms @ told, 0.1)[..., None]
        target[...] = np.clip((picture + DARK_GREY) / gain - DARK_GREY, 0, 255)
    return even


def _ratios(pictures: Picture, ground: Picture) -> Iterator[Floats]:
    """Each picture over the ground at some of its pixels, shape (P,)."""
    bare = ground[::STEP_PX, ::STEP_PX].mean(axis=-1).ravel() + DARK_GREY
    for picture in pictures:
        yield (picture[::STEP_PX, ::STEP_PX].mean(axis=-1).ravel() + DARK_GREY) / bare


def _terms(rows: int, columns: int) -> Floats:
    """Terms of a parabola across a picture, shape (H, W, 6)."""
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    terms: Floats = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    return terms
