"""Drawing on a picture: a skeleton, feet on the ground or not, events.

Every function draws on the array that it is given. Places are edge-based pixels of it. Left is
orange with a filled mark, right is blue with an open one, so that colour is never needed to tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.io.lettering import BLACK, WHITE, Colour, draw_text
from measure.io.moments import FootState
from measure.types import FOOT_LANDMARKS, Floats, Foot, Landmark

Bytes = NDArray[np.uint8]

LEFT: Colour = (255, 166, 38)
RIGHT: Colour = (92, 190, 255)
FOOT_COLOURS: Mapping[Foot, Colour] = {"left": LEFT, "right": RIGHT}

SURE_VISIBILITY = 0.5
"""Limbs that the pose model believes in less than this are drawn thin."""
FINE_BITS = 4
"""Lines are placed to a sixteenth of a pixel."""


def _bones() -> Iterator[tuple[Landmark, Landmark, Colour]]:
    for side, colour in (("LEFT", LEFT), ("RIGHT", RIGHT)):
        joints = {
            name: Landmark[f"{side}_{name}"]
            for name in ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE", "HEEL", "TOE")
        }
        for first, second in (
            ("SHOULDER", "ELBOW"), ("ELBOW", "WRIST"), ("HIP", "KNEE"), ("KNEE", "ANKLE"),
            ("ANKLE", "HEEL"), ("HEEL", "TOE"), ("ANKLE", "TOE"),
        ):  # fmt: skip
            yield joints[first], joints[second], colour
        yield joints["SHOULDER"], joints["HIP"], WHITE
    yield Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, WHITE
    yield Landmark.LEFT_HIP, Landmark.RIGHT_HIP, WHITE


BONES = tuple(_bones())
SOLES = {mark for foot in FOOT_LANDMARKS.values() for mark in (foot.heel, foot.toe)}
JOINTS = tuple(dict.fromkeys(end for first, second, _ in BONES for end in (first, second)
                             if end not in SOLES))  # fmt: skip


def draw_line(
    picture: Bytes, first_px: Floats, second_px: Floats, *, colour: Colour, width_px: int = 1
) -> None:
    """Draw a line; nothing where an end is not finite."""
    if np.isfinite([first_px, second_px]).all():
        ends = _fine(first_px), _fine(second_px)
        cv2.line(picture, *ends, colour, width_px, cv2.LINE_AA, FINE_BITS)


def _fine(point_px: Floats) -> tuple[int, int]:
    """Edge-based place in sixteenths, where cv2 has the first pixel's centre at 0."""
    x, y = np.rint((np.clip(point_px, -5e3, 2e4) - 0.5) * (1 << FINE_BITS)).astype(int).tolist()
    return x, y


def draw_skeleton(picture: Bytes, points_px: Floats, visibility: Floats) -> None:
    """Draw a body's bones and joints.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        Drawn upon.
    points_px : ndarray of shape (33, 2)
        In the picture's pixels; what is NaN is left out.
    visibility : ndarray of shape (33,)
        Limbs that are hardly seen are drawn thin.
    """
    width_px = _pen_px(points_px)
    for rim in (True, False):
        for first, second, colour in BONES:
            sure = min(visibility[first], visibility[second]) >= SURE_VISIBILITY
            # Thin at the feet too: how they stand on the ground has to be seen.
            width = width_px if sure and second not in SOLES else max(1, width_px // 2)
            draw_line(
                picture, points_px[first], points_px[second],
                colour=BLACK if rim else colour, width_px=width + 2 * rim,
            )  # fmt: skip
    for joint in JOINTS if width_px > 1 else ():
        if np.isfinite(points_px[joint]).all():
            radius = round((width_px * 0.5 + 1) * (1 << FINE_BITS))
            cv2.circle(picture, _fine(points_px[joint]), radius, BLACK, -1, cv2.LINE_AA, FINE_BITS)


def _pen_px(points_px: Floats) -> int:
    """Thin for a small body, so that it stays visible behind its lines."""
    seen = points_px[np.isfinite(points_px).all(axis=1)]
    tall_px = float(np.ptp(seen[:, 1])) if seen.size else 0.0
    return int(np.clip(round(tall_px / 110), 1, 5))


def draw_feet(
    picture: Bytes, points_px: Floats, states: Mapping[Foot, FootState | None], *, size_px: float
) -> None:
    """Mark both feet: a bar under a foot on the ground, an open arrowhead below one in the air.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        Drawn upon.
    points_px : ndarray of shape (33, 2)
        The body's points.
    states : mapping of foot to state
        None leaves a foot without a mark: not known.
    size_px : float
        Height of a mark.
    """
    taken: list[Floats] = []
    for foot, state in states.items():
        heel, toe = points_px[FOOT_LANDMARKS[foot].heel], points_px[FOOT_LANDMARKS[foot].toe]
        if state is None or not np.isfinite([heel, toe]).all():
            continue
        middle = np.array([(heel[0] + toe[0]) / 2, max(heel[1], toe[1]) + size_px])
        # From the side the feet hide each other: their marks stand one below the other.
        for other in taken:
            if abs(other[0] - middle[0]) < 4 * size_px and other[1] > middle[1] - 1.6 * size_px:
                middle[1] = other[1] + 1.6 * size_px
        taken.append(middle)
        long_px = max(abs(heel[0] - toe[0]), 2.2 * size_px)
        draw_state(picture, middle, state=state, foot=foot, size=(long_px, size_px))
        letter_at = middle[0] + long_px / 2 + 0.5 * size_px, middle[1] + 0.45 * size_px
        draw_text(picture, foot[0].upper(), letter_at, capital_px=0.9 * size_px,
                  colour=FOOT_COLOURS[foot])  # fmt: skip


def draw_state(
    picture: Bytes, middle_px: Floats, *, state: FootState, foot: Foot, size: tuple[float, float]
) -> None:
    """Draw the sign of a state: a filled bar for the ground, an open arrowhead for the air."""
    (x, y), (long_px, high_px) = middle_px, (size[0] / 2, size[1] / 2)
    rim, stroke = max(2, round(high_px * 0.5)), max(1, round(high_px * 0.3))
    if state == "ground":
        corners = [(x - long_px, y - high_px * 0.7), (x + long_px, y - high_px * 0.7),
                   (x + long_px, y + high_px * 0.7), (x - long_px, y + high_px * 0.7)]  # fmt: skip
    else:
        corners = [(x, y - high_px), (x + 1.2 * high_px, y + high_px),
                   (x - 1.2 * high_px, y + high_px)]  # fmt: skip
    outline = np.array([_fine(np.array(corner)) for corner in corners], dtype=np.int32)
    colour = FOOT_COLOURS[foot]
    cv2.polylines(picture, [outline], True, BLACK, stroke + rim, cv2.LINE_AA, FINE_BITS)
    if state == "ground":
        cv2.fillPoly(picture, [outline], colour, cv2.LINE_AA, FINE_BITS)
    cv2.polylines(picture, [outline], True, colour, stroke, cv2.LINE_AA, FINE_BITS)


def draw_angle(
    picture: Bytes, proximal_px: Floats, joint_px: Floats, distal_px: Floats, *, colour: Colour
) -> None:
    """Draw an arc across a joint, between its two limbs."""
    limbs = np.array([proximal_px, distal_px]) - joint_px
    if not np.isfinite(limbs).all():
        return
    first_deg, second_deg = np.degrees(np.arctan2(limbs[:, 1], limbs[:, 0])).tolist()
    sweep_deg = (second_deg - first_deg + 180) % 360 - 180
    radius_px = 0.28 * float(np.hypot(*limbs.T).min())
    turns_rad = np.radians(first_deg + np.linspace(0, sweep_deg, 24))
    arc = joint_px + radius_px * np.stack([np.cos(turns_rad), np.sin(turns_rad)], axis=1)
    fine = np.array([_fine(point) for point in arc], dtype=np.int32)
    for ink, width_px in ((BLACK, 4), (colour, 2)):
        cv2.polylines(picture, [fine], False, ink, width_px, cv2.LINE_AA, FINE_BITS)


def draw_level(picture: Bytes, at_px: Floats, *, size_px: float, text: str) -> None:
    """Mark the height of a point with a diamond, a line to both sides and a word."""
    if not np.isfinite(at_px).all():
        return
    x, y = float(at_px[0]), float(at_px[1])
    for rim, colour in ((4, BLACK), (0, WHITE)):
        for side in (-1, 1):
            ends = np.array([[x + side * size_px, y], [x + side * 5 * size_px, y]])
            draw_line(picture, ends[0], ends[1], colour=colour,
                      width_px=max(2, round(size_px / 6)) + rim)  # fmt: skip
    draw_event_sign(picture, at_px, kind="deepest", size_px=size_px, rim=BLACK)
    place = x + 1.4 * size_px, y - 0.6 * size_px
    draw_text(picture, text, place, capital_px=size_px)


_SIGNS = {
    "take_off": np.array([[0, -1], [1, 0.8], [-1, 0.8]]),
    "landing": np.array([[0, 1], [1, -0.8], [-1, -0.8]]),
    "deepest": np.array([[0, -1], [0.8, 0], [0, 1], [-0.8, 0]]),
}
SIGN_COLOURS: Mapping[str, Colour] = {
    "take_off": (0, 158, 115), "landing": (213, 94, 0), "deepest": (204, 121, 167),
}  # fmt: skip


def draw_event_sign(
    picture: Bytes, at_px: Floats, *, kind: str, size_px: float, rim: Colour = BLACK
) -> None:
    """Draw an event's sign: up for a take-off, down for a landing, a diamond for the deepest."""
    outline = np.array([_fine(at_px + corner * size_px / 2) for corner in _SIGNS[kind]], np.int32)
    cv2.fillPoly(picture, [outline], SIGN_COLOURS[kind], cv2.LINE_AA, FINE_BITS)
    cv2.polylines(picture, [outline], True, rim, max(1, round(size_px / 12)), cv2.LINE_AA,
                  FINE_BITS)  # fmt: skip
