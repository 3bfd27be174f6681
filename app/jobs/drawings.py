"""Films to be drawn on workers when no clip waits: fresh ones, and those that were missed."""

from __future__ import annotations

import secrets
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from distributed import Client, Future, KilledWorker

from app.clip_files import ClipFiles
from app.history.clip_orders import Order
from app.jobs.clip_work import Place, draw_upload, redraw_upload


@dataclass
class Drawings:
    """What one server has drawn; each clip by its content, so that none is drawn twice at once."""

    files: ClipFiles
    place: Place
    draw: Callable[[Any, Order, Place], None] = draw_upload
    """What a worker does with what came of a clip."""
    redraw: Callable[[Order, dict[str, Any], Place], None] = redraw_upload
    """What it does with a clip that was measured and isn't drawn."""
    _fresh: dict[str, tuple[Order, Future]] = field(default_factory=dict)
    _asked: dict[str, tuple[Order, dict[str, Any]]] = field(default_factory=dict)
    _running: dict[str, Future] = field(default_factory=dict)
    _in_vain: set[str] = field(default_factory=set)
    _anew: str = ""
    """The clip that is being looked at once more, or was last."""

    def add(self, order: Order, measured: Future) -> None:
        """Have a clip drawn that was measured just now; its analysis lies on the worker."""
        self._in_vain.discard(order.clip_sha256)
        self._fresh[order.clip_sha256] = (order, measured)

    def ask(self, order: Order, report: dict[str, Any]) -> bool:
        """Have a clip drawn of which only the numbers are kept.

        Returns
        -------
        bool
            Whether a drawing is to come; False where one was tried in vain.
        """
        content = order.clip_sha256
        if content in self._in_vain:
            return False
        if not any(content in each for each in (self._fresh, self._asked, self._running)):
            self._asked[content] = (order, report)
        return True

    def hand_out(self, client: Client, *, resources: dict[str, int] | None) -> None:
        """Give workers what is to be drawn; clips that wait to be measured come before.

        Raises
        ------
        StoreFailed
            The store can't be read; it is looked at again at the next call.
        """
        self._collect()
        how: dict[str, Any] = {"priority": -1, "pure": False, "resources": resources}
        for content, (order, measured) in list(self._fresh.items()):
            self._running[content] = client.submit(
                self.draw, measured, order, self.place, key=f"film-{order.claim}", **how
            )
            del self._fresh[content]
        # One at a time: looking at a clip once more takes as long as an upload, which would wait.
        if self._asked and self._anew not in self._running:
            self._anew, (order, report) = next(iter(self._asked.items()))
            self._running[self._anew] = client.submit(
                self.redraw, order, report, self.place, key=f"film-{secrets.token_hex(16)}", **how
            )
            del self._asked[self._anew]

    def forget(self) -> None:
        """Forget what is under way, where the workers are gone; whoever looks asks again."""
        for each in (self._fresh, self._asked, self._running):
            each.clear()

    def _collect(self) -> None:
        for content, drawing in list(self._running.items()):
            if not drawing.done():
                continue
            if drawing.status == "error":
                say_fault(drawing)
            if self.files.find_annotated(content) is None:
                self._in_vain.add(content)
            del self._running[content]


def say_fault(future: Future) -> None:
    """Say what a task broke off with, for whoever runs the server; a dead worker is told apart."""
    fault = future.exception()
    if not isinstance(fault, KilledWorker):
        print(f"flightmark: a clip broke off ({fault!r})", file=sys.stderr)
