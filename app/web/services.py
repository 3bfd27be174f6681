"""What pages and routes of one server share: the open history, the clips, the workers."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from app.folders import data_folder, history_url
from app.history.desk import Desk, open_desk
from app.web.clip_files import CLIPS_FOLDER_NAME, ClipFiles
from app.web.workers import Workers

COOKIE = "flightmark_session"
UPLOADS_FOLDER_NAME = "uploads"


@dataclass
class Services:
    """One server's open things."""

    desk: Desk
    files: ClipFiles
    uploads_folder: Path
    url: str
    workers: Workers | None = field(default=None)

    def wake_workers(self) -> None:
        """Say that a clip is waiting."""
        if self.workers is not None:
            self.workers.wake()


_open: Services | None = None


def services() -> Services:
    """Give what is open in this process; opened at the first call."""
    global _open
    if _open is None:
        _open = open_services()
    return _open


def open_services(*, folder: Path | None = None, url: str | None = None) -> Services:
    """Open the history and the folders of clips.

    Raises
    ------
    HistoryFailed
        The history can't be opened.
    """
    place = folder or data_folder()
    address = url or history_url()
    uploads = place / UPLOADS_FOLDER_NAME
    uploads.mkdir(parents=True, exist_ok=True)
    return Services(open_desk(address), ClipFiles(place / CLIPS_FOLDER_NAME), uploads, address)


def use_services(chosen: Services | None) -> None:
    """Put what is open into this process's place, for a server or a test."""
    global _open
    _open = chosen
