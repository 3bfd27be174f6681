"""What was seen of bodies in clips, kept on this machine for the next time; no pictures."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from app.folders import data_folder

SHELF_FOLDER = "seen"
KEPT_S = 30 * 24 * 3600.0
MOST_CLIPS = 500


class SeenShelf:
    """Numbers seen in clips, in a folder: a folder for each clip, the oldest are thrown away.

    A clip that is measured again is not looked at again. Nothing depends on it: what can't be
    read or written counts as not kept.

    Parameters
    ----------
    folder : Path
        Of the shelf alone.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, clip_sha256: str, name: str) -> bytes | None:
        """Give the content of a name, None where it isn't kept."""
        try:
            content = (self._folder / clip_sha256 / name).read_bytes()
            os.utime(self._folder / clip_sha256)  # still wanted
        except OSError:
            return None
        return content

    def save(self, clip_sha256: str, name: str, content: bytes) -> None:
        """Keep a content whole, or not at all."""
        place = self._folder / clip_sha256
        with suppress(OSError):
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)  # about people
            place.mkdir(exist_ok=True)
            with tempfile.TemporaryDirectory(dir=place) as part_folder:
                part = Path(part_folder) / name
                part.write_bytes(content)
                os.replace(part, place / name)
            self._throw_away_old()

    def forget(self, clip_sha256: str) -> None:
        """Throw away all that was seen in a clip."""
        shutil.rmtree(self._folder / clip_sha256, ignore_errors=True)

    def _throw_away_old(self) -> None:
        places = [(place.stat().st_mtime, place) for place in self._folder.iterdir()]
        places.sort(reverse=True)
        stale = [place for used_s, place in places if used_s < time.time() - KEPT_S]
        for place in {*stale, *(place for _, place in places[MOST_CLIPS:])}:
            shutil.rmtree(place, ignore_errors=True)


def own_shelf() -> SeenShelf:
    """Give the shelf in the user's data folder."""
    return SeenShelf(data_folder() / SHELF_FOLDER)
