"""What pages and routes of one server share: the open history, the clips, what measures them."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from app.clip_files import ClipFiles
from app.errors import StoreFailed
from app.folders import data_folder, history_url, store_address
from app.history.desk import Desk, open_desk
from app.store import open_store

if TYPE_CHECKING:
    from app.history.reviews import ClipRecord
    from app.jobs.clip_runner import ClipRunner
    from app.web.outside import Provider

COOKIE = "flightmark_session"
UPLOADS_FOLDER_NAME = "uploads"


@dataclass
class Services:
    """One server's open things."""

    desk: Desk
    files: ClipFiles
    uploads_folder: Path
    url: str
    runner: ClipRunner | None = field(default=None)
    provider: Provider | None = field(default=None)
    """Who else signs people in."""

    def have_drawn(self, clip: ClipRecord) -> bool:
        """Have a measured clip drawn that isn't; give whether a drawing is to come."""
        order = self.desk.jobs.order_drawing(clip.clip_id)
        if self.runner is None or order is None:
            return False
        return self.runner.have_drawn(order, clip.report)

    def forget_drawing(self, clip: ClipRecord) -> None:
        """Have a film drawn anew when it is looked at next: events in it were moved."""
        with suppress(StoreFailed):  # numbers stand without pictures
            if self.files.has_clip(clip.clip_sha256):
                self.files.forget_drawing(clip.clip_sha256)

    def wake_runner(self) -> None:
        """Say that a clip is waiting, or is not wanted any more."""
        if self.runner is not None:
            self.runner.wake()


_open: Services | None = None


def services() -> Services:
    """Give what is open in this process; opened at the first call."""
    global _open
    if _open is None:
        _open = open_services()
    return _open


def open_services() -> Services:
    """Open the history and the folders of clips.

    Raises
    ------
    HistoryFailed, StoreFailed
        The history or the store of clips can't be opened.
    """
    url = history_url()
    uploads = data_folder() / UPLOADS_FOLDER_NAME
    uploads.mkdir(parents=True, exist_ok=True, mode=0o700)
    return Services(open_desk(url), ClipFiles(open_store(store_address())), uploads, url)


def use_services(chosen: Services | None) -> None:
    """Put what is open into this process's place, for a server or a test."""
    global _open
    _open = chosen
