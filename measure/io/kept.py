"""Pictures kept from the first pass, so that the second need not decode them again.

Only a strip of each picture is kept: where feet stand and come down. Memory has a cap, whatever
the clip's length; what does not fit is decoded again, and gives the same numbers.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Mapping, Sequence

from measure.io.bodies import Body
from measure.io.feet_seen import Box, FeetSeen, Strip
from measure.io.frame import Frame, FramePart

__all__ = ["CAP_BYTES", "KeptStrips"]

CAP_BYTES = 100e6
ROOM_S = 1.0
"""Strips about feet that move along are so wide that those of so long have room: of one jump, from
before its take-off to after its landing."""
BYTES_PER_PIXEL = 1.5
FAST_RADII_PER_S = 1.5
"""Pictures near feet as fast as this, 1.4 m/s, are not given up for others: a jump of 0.1 m."""
CLEARED_SHARE = 0.8
"""Part of the cap in use after a clearing, so that it does not come with every picture."""


class KeptStrips:
    """Strips of a clip's pictures; one thread brings pictures while another tells of bodies.

    Parameters
    ----------
    width_px : int
        Of the upright picture.
    interval_s : float
        Usual file time between pictures.
    cap_bytes : float
        Memory that strips may take.
    """

    def __init__(
        self, width_px: int, *, interval_s: float, cap_bytes: float = CAP_BYTES
    ) -> None:
        self._width_px = width_px
        self._cap_bytes = cap_bytes
        self._widest_bytes = cap_bytes * interval_s / ROOM_S
        self._lock = threading.Lock()
        self._feet = FeetSeen()
        self._strip: Strip | None = None
        self._parts: dict[int, FramePart] = {}
        self._bytes = 0
        self._is_full = False

    def see(self, bodies: Sequence[Body]) -> None:
        """Take notice of where the largest body's feet are now."""
        with self._lock:
            self._feet.see(bodies)
            if self._feet.radius_px > 0:
                width_px = self._widest_bytes / BYTES_PER_PIXEL / self._feet.height_px()
                self._strip = self._feet.strip(
                    self._strip, widest_px=min(width_px, self._width_px),
                    picture_px=self._width_px,
                )  # fmt: skip

    def take(self, frame: Frame) -> None:
        """Keep the strip of a picture, once it is known where that is and while there is room."""
        strip = self._strip
        if strip is None or self._is_full or not _shows(frame, strip.box):
            return
        part = frame.part(*strip.box)
        with self._lock:
            self._add(part)
            self._make_room()

    def claim(self, wanted: Mapping[int, Collection[Box]]) -> set[int]:
        """Forget all but the strips that hold everything that is wanted of their picture.

        Parameters
        ----------
        wanted : mapping of int to collection of Box
            Frame numbers, and the rectangles to be cut out of each.

        Returns
        -------
        set of int
            Numbers of the frames whose strip is there to be taken.
        """
        self._parts = {
            index: part
            for index, part in self._parts.items()
            if index in wanted and all(part.holds(*box) for box in wanted[index])
        }
        return set(self._parts)

    def pop(self, index: int) -> FramePart:
        """Hand over a strip for good."""
        return self._parts.pop(index)

    def forget(self) -> None:
        """Forget all strips."""
        self._parts.clear()

    def _add(self, part: FramePart) -> None:
        self._parts[part.index] = part
        self._bytes += part.size_bytes

    def _make_room(self) -> None:
        """Give up what is needed least once the cap is reached; if all is needed, take no more."""
        if self._bytes <= self._cap_bytes:
            return
        speeds = {
            index: self._feet.speed_about(part.frame.file_time_s)
            for index, part in self._parts.items()
        }
        for index in sorted(speeds, key=speeds.__getitem__):
            if speeds[index] > FAST_RADII_PER_S or self._bytes < CLEARED_SHARE * self._cap_bytes:
                break
            self._bytes -= self._parts.pop(index).size_bytes
        if self._bytes > self._cap_bytes:
            self._bytes -= self._parts.pop(max(self._parts)).size_bytes
            self._is_full = True


def _shows(frame: Frame, box: Box) -> bool:
    """Tell whether anything of a rectangle lies in the picture."""
    left, top, right, bottom = box
    return left < frame.width_px and right > 0 and top < frame.height_px and bottom > 0
