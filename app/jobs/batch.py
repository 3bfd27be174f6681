"""Many clips into the history: what is there already is passed over, the rest is measured."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from app.errors import HistoryFailed, StoreFailed
from app.history import Measured, MeasuredBy
from app.jobs.tasks import ClipTask, Outcome
from app.names import name_key
from app.requests import hash_request, request_as_json
from app.store.files import hash_file
from measure.errors import UnreadableClip
from measure.request import ClipRequest

if TYPE_CHECKING:
    from app.history import History
    from app.jobs.cluster import Workers
    from app.measuring import Measuring
    from app.store import FileStore
    from measure.report import Versions

T = TypeVar("T")
End = Literal["measured", "present", "settled", "no_number", "unreadable", "fault"]
SAVE_WAITS_S = (0.5, 1.0, 2.0, 4.0)
"""A database that is just being started again is waited for this long before giving up."""


def _utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class BatchItem:
    """One clip of a batch."""

    athlete: str
    request: ClipRequest
    on_date: date | None = None
    """Day of training; when the clip was filmed where None, else today."""

    @property
    def path(self) -> Path:
        """The clip."""
        return self.request.path


@dataclass(frozen=True)
class Ended:
    """How one clip of a batch ended."""

    item: BatchItem
    end: End
    report: dict[str, Any] | None = None
    said: str = ""
    """Why there is no number."""


@dataclass
class Batch:
    """Runs a batch.

    Parameters
    ----------
    history : History
        Written only by the process that runs the batch.
    measuring : Measuring
        Its ``analyse`` and ``versions`` can be imported by name on the workers.
    store : FileStore, optional
        Where clips and body tracks are kept; without one, clips are measured where they lie.
    """

    history: History
    measuring: Measuring
    store: FileStore | None
    now: Callable[[], datetime] = _utc_now
    save_waits_s: Sequence[float] = SAVE_WAITS_S

    def run(self, items: Sequence[BatchItem], workers: Workers) -> Iterator[Ended]:
        """Measure what isn't measured yet, and save each outcome before the next is looked at.

        Yields
        ------
        Ended
            One for each item, in the order in which they end.

        Raises
        ------
        JobsFailed, HistoryFailed
            The scheduler or the database is gone and stays so. Call again to go on.
        """
        versions = workers.versions(self.measuring.versions)
        early: list[Ended] = []
        for work, outcome in workers.run(
            self._list_work(items, versions, early), analyse=self.measuring.analyse
        ):
            yield from _drain(early)
            yield self._save(work, outcome)
        yield from _drain(early)

    def _list_work(
        self, items: Sequence[BatchItem], versions: Versions, early: list[Ended]
    ) -> Iterator[tuple[_Work, ClipTask]]:
        """Give what is to be measured, one at a time; what isn't ends early."""
        seen: set[tuple[str, str, str]] = set()
        for item in items:
            try:
                work, task = self._prepare(item, versions)
            except (UnreadableClip, StoreFailed) as error:
                early.append(Ended(item, "unreadable", said=str(error)))
                continue
            mark = (name_key(item.athlete), work.key.clip_sha256, work.key.request_sha256)
            if mark in seen or self._is_up_to_date(work.key):
                early.append(Ended(item, "present"))
            elif (reason := self._why_unmeasured(work.key)) is not None:
                early.append(Ended(item, "settled", said=reason))
            else:
                yield work, self._keep_clip(item, task)
            seen.add(mark)

    def _prepare(self, item: BatchItem, versions: Versions) -> tuple[_Work, ClipTask]:
        plain = request_as_json(item.request)
        known = self._insist(lambda: self.history.find_athlete(item.athlete))
        if "stature_m" not in plain and known is not None and known.stature_m is not None:
            plain["stature_m"] = known.stature_m
        sha256 = hash_file(item.path)
        key = MeasuredBy(item.athlete, sha256, hash_request(plain), versions)
        task = ClipTask(item.path.name, sha256, plain, path=item.path.absolute())
        return _Work(item, key, plain), task

    def _keep_clip(self, item: BatchItem, task: ClipTask) -> ClipTask:
        if self.store is None:
            return task
        if not self.store.has(task.clip_sha256):
            self.store.keep_file(item.path)
        return dataclasses.replace(task, path=None, store=self.store.address)

    def _save(self, work: _Work, outcome: Outcome) -> Ended:
        item = work.item
        if outcome.fault is not None:
            return Ended(item, "fault", said=outcome.fault)
        if outcome.is_measured:
            assert outcome.report is not None
            measured = self._measured(work, outcome)
            self._insist(lambda: self.history.save_results([measured]))
            return Ended(item, "measured", outcome.report)
        reason = outcome.refusal or first_refusal(outcome.report)
        self._insist(
            lambda: self.history.note_unmeasured(
                work.key, clip_name=item.path.name, reason=reason, noted_at=self.now()
            )
        )
        return Ended(item, "unreadable" if outcome.is_unreadable else "no_number", said=reason)

    def _measured(self, work: _Work, outcome: Outcome) -> Measured:
        assert outcome.report is not None
        now = self.now()
        filmed = outcome.report["clip"].get("recorded_at")
        filmed_at = datetime.fromisoformat(filmed) if filmed else now
        return Measured(
            report=outcome.report, athlete=work.item.athlete,
            on_date=work.item.on_date or filmed_at.astimezone().date(),
            clip_name=work.item.path.name, saved_at=now,
            stature_m=work.item.request.stature_m, request=work.request,
            track_sha256=outcome.track_sha256,
        )  # fmt: skip

    def _is_up_to_date(self, key: MeasuredBy) -> bool:
        return self._insist(lambda: self.history.is_up_to_date(key))

    def _why_unmeasured(self, key: MeasuredBy) -> str | None:
        return self._insist(lambda: self.history.why_unmeasured(key))

    def _insist(self, act: Callable[[], T]) -> T:
        return insist(act, waits_s=self.save_waits_s)


def insist(act: Callable[[], T], *, waits_s: Sequence[float] = SAVE_WAITS_S) -> T:
    """Do an act on the history, again after each wait while the history fails."""
    for wait_s in waits_s:
        try:
            return act()
        except HistoryFailed:
            time.sleep(wait_s)
    return act()


@dataclass(frozen=True)
class _Work:
    item: BatchItem
    key: MeasuredBy
    request: dict[str, Any]
    """With the stature that is kept for the athlete."""


def first_refusal(report: dict[str, Any] | None) -> str:
    """Give the first reason that a report names."""
    refusals = (report or {}).get("refusals", ())
    return " ".join(f"{each['reason']} {each['hint']}" for each in refusals[:1]) or "No jump."


def _drain(early: list[Ended]) -> Iterator[Ended]:
    while early:
        yield early.pop(0)
