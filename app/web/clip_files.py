"""Where clips and what is drawn from them lie: one folder per clip, named by its content."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Sequence
from pathlib import Path

CLIPS_FOLDER_NAME = "clips"
CONTENT_NAME = re.compile(r"[0-9a-f]{64}")
SUFFIXES = {".mp4": "video/mp4", ".mov": "video/quicktime", ".m4v": "video/mp4",
            ".webm": "video/webm", ".mkv": "video/x-matroska", ".avi": "video/x-msvideo",
            ".3gp": "video/3gpp"}  # fmt: skip
PICTURES = (".jpg", ".png")
MOMENTS = ("take_off", "landing", "deepest")


class ClipFiles:
    """The clips of everybody; who may see which is decided elsewhere.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def place(self, sha256: str) -> Path:
        """Give the folder of one clip."""
        if not CONTENT_NAME.fullmatch(sha256):
            raise ValueError(f"sha256: expected 64 hexadecimal digits, got {sha256!r}")
        return self._folder / sha256[:2] / sha256

    def clip(self, sha256: str, suffix: str) -> Path:
        """Give where the clip itself lies or will lie."""
        if suffix not in SUFFIXES:
            raise ValueError(f"suffix: expected one of {', '.join(SUFFIXES)}, got {suffix!r}")
        return self.place(sha256) / f"clip{suffix}"

    def find_clip(self, sha256: str) -> Path | None:
        """Give the clip of a content, whatever its ending."""
        place = self.place(sha256)
        kept = [place / f"clip{suffix}" for suffix in SUFFIXES]
        return next((path for path in kept if path.is_file()), None)

    def annotated(self, sha256: str) -> Path:
        """Give where the clip with what was seen drawn into it lies or will lie."""
        return self.place(sha256) / "annotated.mp4"

    def stills(self, sha256: str) -> Path:
        """Give the folder of the pictures."""
        return self.place(sha256) / "stills"

    def list_stills(self, sha256: str) -> list[str]:
        """Give the names of the pictures, in order."""
        kept = [path.name for path in self.stills(sha256).glob("*")]
        return sorted((name for name in kept if name.endswith(PICTURES)), key=_in_order)

    def take(self, part: Path, sha256: str, suffix: str) -> Path:
        """Move a whole upload to its place; one that is there already stays."""
        path = self.clip(sha256, suffix)
        if self.find_clip(sha256) is None:
            path.parent.mkdir(parents=True, exist_ok=True)
            os.replace(part, path)
        else:
            part.unlink(missing_ok=True)
        return path

    def copy(self, path: Path, sha256: str) -> None:
        """Keep a copy of a clip that stays where it is."""
        target = self.clip(sha256, path.suffix.lower())
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)

    def keep_frame_times(self, sha256: str, file_time_s: Sequence[float]) -> None:
        """Keep when the file shows each frame, for stepping."""
        place = self.place(sha256)
        place.mkdir(parents=True, exist_ok=True)
        text = json.dumps([round(float(time), 6) for time in file_time_s])
        (place / "frames.json").write_text(text, encoding="utf-8")

    def frame_times(self, sha256: str) -> list[float]:
        """Give when the file shows each frame, seconds after its first; empty where unknown."""
        try:
            times: list[float] = json.loads((self.place(sha256) / "frames.json").read_text())
        except (OSError, ValueError):
            return []
        return times

    def delete(self, sha256: str) -> None:
        """Delete a clip with all that was drawn from it."""
        shutil.rmtree(self.place(sha256), ignore_errors=True)


def _in_order(name: str) -> tuple[int, int, str]:
    """Jump by jump, each from take-off to the deepest point; pictures of the whole come last."""
    number = re.match(r"jump(\d+)_", name)
    moments = [place for place, moment in enumerate(MOMENTS) if moment in name]
    return int(number[1]) if number else 10_000, moments[0] if moments else len(MOMENTS), name
