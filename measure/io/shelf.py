"""What was seen in a clip, kept so that nothing is looked at twice.

Only numbers are kept, no pictures: the poses of the first look, and the moments of the feet.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import math
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from calibration.values import Refused
from measure.io.athlete import FollowedAthlete
from measure.io.changes import PictureChanges
from measure.io.look import CameraPath, FirstLook
from measure.types import Instant, PoseTrack

if TYPE_CHECKING:  # slow to import, and the first look goes without
    from measure.contacts.judge import FootEvent
    from measure.contacts.plan import EventPlan
    from measure.contacts.segment import TimedEvent

__all__ = ["Looked", "Shelf"]

LOOK_VERSION = 3
"""Raise it when the first look, or the look at the feet, sees other numbers in the same clip."""
SAME_SCALE_SHARE = 0.12
"""Feet are not looked at again for a stature that differs less: it moves only how large a patch
of shoe is taken, and what speeds are believed."""
TRACK_ARRAYS = ("frame_index", "file_time_s", "px", "visibility", "world_m")
ATHLETE_NUMBERS = (
    "most_people", "seen_share", "feet_cut_share", "head_cut_share", "height_px"
)  # fmt: skip


class Shelf(Protocol):
    """Where something about a clip may be kept; it may lose anything at any time."""

    def load(self, clip_sha256: str, name: str) -> bytes | None:
        """Content of a name, None where it isn't kept."""

    def save(self, clip_sha256: str, name: str, content: bytes) -> None:
        """Keep it."""


@dataclass(frozen=True)
class Looked:
    """One clip on a shelf, as one model and one set of settings see it.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    clip_sha256 : str
    versions : str
        All that decides what is seen: model, settings, versions.
    """

    shelf: Shelf | None
    clip_sha256: str
    versions: str

    def look(self, take: Callable[[], FirstLook]) -> FirstLook:
        """First look, from the shelf or taken and put there."""
        name = f"look_{_digest(LOOK_VERSION, self.versions)}.npz"
        kept: FirstLook | None = _read(self._load(name), _read_look)
        if kept is not None:
            return kept
        look = take()
        self._save(name, _look_as_bytes(look))
        return look

    def events(
        self, plans: Sequence[EventPlan], take: Callable[[], list[TimedEvent]], *,
        px_per_m: float, interval_s: float,
    ) -> list[TimedEvent]:  # fmt: skip
        """Timed events of plans, from the shelf where the same feet were looked at before.

        A stature that differs by less than ``SAME_SCALE_SHARE`` keeps the times.
        """
        planned = [
            (one.kind, one.foot, one.flight, one.coarse_s, one.reference, one.frames.tolist())
            for one in plans
        ]
        name = f"events_{_digest(LOOK_VERSION, self.versions, interval_s, planned)}.json"
        kept: list[TimedEvent] | None = _read(
            self._load(name), lambda content: _read_events(content, plans, px_per_m)
        )
        if kept is not None:
            return kept
        events = take()
        self._save(name, _events_as_bytes(events, px_per_m))
        return events

    def _load(self, name: str) -> bytes | None:
        return None if self.shelf is None else self.shelf.load(self.clip_sha256, name)

    def _save(self, name: str, content: bytes) -> None:
        if self.shelf is not None:
            self.shelf.save(self.clip_sha256, name, content)


def _digest(*parts: Any) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


def _read(content: bytes | None, read: Callable[[bytes], Any]) -> Any:
    """What some bytes hold; what is damaged counts as not kept."""
    if content is None:
        return None
    try:
        return read(content)
    except (ValueError, KeyError, TypeError, OSError, EOFError, zipfile.BadZipFile):
        return None


def _look_as_bytes(look: FirstLook) -> bytes:
    track, content = look.athlete.track, io.BytesIO()
    np.savez(
        content, **{name: getattr(track, name) for name in TRACK_ARRAYS},
        size_px=np.array([track.width_px, track.height_px]),
        athlete=np.array([getattr(look.athlete, name) for name in ATHLETE_NUMBERS], float),
        frame_file_time_s=look.frame_file_time_s, noise_level=look.changes.noise_level,
        motion_level=look.changes.motion_level, camera_index=look.camera.frame_index,
        camera=look.camera.first_from_picture, moved_px=np.array(look.camera.moved_px),
        brightness=np.array(look.brightness),
    )  # fmt: skip
    return content.getvalue()


def _read_look(content: bytes) -> FirstLook:
    with np.load(io.BytesIO(content), allow_pickle=False) as kept:
        width_px, height_px = kept["size_px"].tolist()
        track = PoseTrack(
            **{name: kept[name] for name in TRACK_ARRAYS}, width_px=width_px, height_px=height_px
        )
        people, *shares = kept["athlete"].tolist()
        return FirstLook(
            FollowedAthlete(track, int(people), *shares), kept["frame_file_time_s"],
            PictureChanges(kept["noise_level"], kept["motion_level"]),
            CameraPath(kept["camera_index"], kept["camera"], float(kept["moved_px"])),
            float(kept["brightness"]),
        )  # fmt: skip


def _events_as_bytes(events: Sequence[TimedEvent], px_per_m: float) -> bytes:
    rows = [{type(one.event).__name__: dataclasses.asdict(one.event)} for one in events]
    return json.dumps({"px_per_m": px_per_m, "events": rows}).encode()


def _read_events(
    content: bytes, plans: Sequence[EventPlan], px_per_m: float
) -> list[TimedEvent] | None:
    from measure.contacts.segment import TimedEvent

    kept = json.loads(content)
    if abs(math.log(kept["px_per_m"] / px_per_m)) > SAME_SCALE_SHARE:
        return None
    return [
        TimedEvent(plan, _read_event(row)) for plan, row in zip(plans, kept["events"], strict=True)
    ]


def _read_event(row: dict[str, Any]) -> FootEvent | Refused:
    from measure.contacts.judge import FootEvent

    if "Refused" in row:
        return Refused(**row["Refused"])
    event = FootEvent(**row["FootEvent"])
    if event.place_px is not None:
        left, top, right, bottom = event.place_px
        event = replace(event, place_px=(left, top, right, bottom))
    return replace(event, instant=Instant(**row["FootEvent"]["instant"]))
