"""The clips of everybody and what was drawn from them; who may see them is decided elsewhere."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from app.seen import own_shelf
from app.store import DrawnFiles, FileStore, KeptFile
from measure.errors import UnreadableClip

SUFFIXES = {".mp4": "video/mp4", ".mov": "video/quicktime", ".m4v": "video/mp4",
            ".webm": "video/webm", ".mkv": "video/x-matroska", ".3gp": "video/3gpp"}  # fmt: skip
PICTURES = (".jpg", ".png")
MOMENTS = ("take_off", "landing", "deepest")
ANNOTATED, FRAMES = "annotated.mp4", "frames.json"


class ClipFiles:
    """Clips by their content, each with its pictures, drawn film and times of frames.

    Parameters
    ----------
    store : FileStore
    """

    def __init__(self, store: FileStore) -> None:
        self._clips, self._drawn = store, DrawnFiles(store)

    @property
    def address(self) -> str:
        """Where the store is, for another process."""
        return self._clips.address

    def keep_clip(self, path: Path) -> str:
        """Keep a clip and give its name, the SHA-256 of its content."""
        return self._clips.keep_file(path)

    def has_clip(self, sha256: str) -> bool:
        """Say whether a clip is kept."""
        return self._clips.has(sha256)

    def find_clip(self, sha256: str) -> KeptFile | None:
        """Give a clip, None where it isn't kept."""
        return self._clips.find(sha256)

    @contextmanager
    def local_clip(self, sha256: str) -> Iterator[Path]:
        """Give a path on this machine under which a clip lies for as long as the context lasts."""
        with self._clips.local_path(sha256) as path:
            yield path

    def keep_annotated(self, sha256: str, path: Path) -> None:
        """Keep the clip with what was seen drawn into it."""
        self._drawn.keep_file(sha256, ANNOTATED, path)

    def find_annotated(self, sha256: str) -> KeptFile | None:
        """Give the clip with what was seen drawn into it, None where there is none."""
        return self._drawn.find(sha256, ANNOTATED)

    def forget_drawing(self, sha256: str) -> None:
        """Throw away the drawn film and the pictures: what they show has changed."""
        for name in [ANNOTATED, *self.list_stills(sha256)]:
            self._drawn.remove_file(sha256, name)

    def keep_stills(self, sha256: str, paths: Sequence[Path]) -> None:
        """Keep pictures of a clip."""
        for path in paths:
            self._drawn.keep_file(sha256, path.name, path)

    def list_stills(self, sha256: str) -> list[str]:
        """Give the names of the pictures, in order."""
        names = self._drawn.list_names(sha256)
        return sorted((name for name in names if name.endswith(PICTURES)), key=_in_order)

    def find_still(self, sha256: str, name: str) -> KeptFile | None:
        """Give a picture, None where there is none of that name."""
        return self._drawn.find(sha256, name) if name.endswith(PICTURES) else None

    def keep_frame_times(self, sha256: str, file_time_s: Sequence[float]) -> None:
        """Keep when the file shows each frame, for stepping."""
        text = json.dumps([round(float(time), 6) for time in file_time_s])
        self._drawn.keep_bytes(sha256, FRAMES, text.encode())

    def frame_times(self, sha256: str) -> list[float]:
        """Give when the file shows each frame, seconds after its first; empty where unknown."""
        kept = self._drawn.find(sha256, FRAMES)
        if kept is None:
            return self._read_frame_times(sha256)
        times: list[float] = json.loads(kept.read())
        return times

    def _read_frame_times(self, sha256: str) -> list[float]:
        """Ask the clip itself, where it came from a batch or out of a backup."""
        from measure.io.read import open_clip

        if not self.has_clip(sha256):
            return []
        try:
            with self.local_clip(sha256) as path, open_clip(path) as clip:
                times = clip.stamps.file_time_s.tolist()
        except UnreadableClip:
            return []
        self.keep_frame_times(sha256, times)
        return [float(time_s) for time_s in times]

    def delete(self, sha256: str) -> None:
        """Delete a clip with all that was drawn from it and all that was seen in it."""
        self._clips.remove(sha256)
        self._drawn.remove(sha256)
        own_shelf().forget(sha256)

    def delete_track(self, sha256: str) -> None:
        """Delete a body track."""
        self._clips.remove(sha256, kind="tracks")


def media_type(clip: KeptFile) -> str:
    """Tell what kind of film a file is, by how it begins."""
    head = clip.read(0, 12)
    if head[:4] == b"\x1aE\xdf\xa3":
        return "video/webm"
    return "video/quicktime" if head[8:10] == b"qt" else "video/mp4"


@contextmanager
def drawing_folder() -> Iterator[Path]:
    """Give an empty folder of this machine for pictures until they are kept."""
    with tempfile.TemporaryDirectory(prefix="flightmark-") as folder:
        yield Path(folder)


def _in_order(name: str) -> tuple[int, int, str]:
    """Jump by jump, each from take-off to the deepest point; pictures of the whole come last."""
    number = re.match(r"jump(\d+)_", name)
    moments = [place for place, moment in enumerate(MOMENTS) if moment in name]
    return int(number[1]) if number else 10_000, moments[0] if moments else len(MOMENTS), name
