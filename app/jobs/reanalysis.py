"""The whole history measured again by what is installed now; old results stay."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from app.history import Measured, MeasuredBy, ResultRecord
from app.jobs.batch import first_refusal, insist
from app.jobs.tasks import ClipTask, Outcome
from app.requests import hash_request
from measure.report import Versions

if TYPE_CHECKING:
    from app.history import History
    from app.jobs.cluster import Workers
    from app.measuring import Measuring
    from app.store import FileStore

Fate = Literal["measured", "present", "by_hand", "no_clip", "no_number", "fault"]


@dataclass(frozen=True)
class Reanalysed:
    """One result of the history and what became of it."""

    before: ResultRecord
    fate: Fate
    report: dict[str, Any] | None = None
    """The new report, where there is one."""
    said: str = ""


@dataclass(frozen=True)
class Reanalysis:
    """Measures kept clips again.

    Parameters
    ----------
    history : History
    measuring : Measuring
        As for a batch.
    store : FileStore
    elsewhere : mapping of str to Path
        Clips by their SHA-256 that are not in the store.
    """

    history: History
    measuring: Measuring
    store: FileStore
    elsewhere: Mapping[str, Path]

    def run(self, results: Sequence[ResultRecord], workers: Workers) -> Iterator[Reanalysed]:
        """Measure again what was measured by something else, and save each.

        Parameters
        ----------
        results : sequence of ResultRecord
            Current ones.
        workers : Workers

        Yields
        ------
        Reanalysed
            One for each result, in the order in which they end.
        """
        versions = workers.versions(self.measuring.versions)
        early: list[Reanalysed] = []
        revised = self.history.list_revised()
        tasks = self._list_work(results, versions, revised, early)
        for before, outcome in workers.run(tasks, analyse=self.measuring.analyse):
            while early:
                yield early.pop(0)
            yield self._save(before, outcome, versions)
        yield from early

    def _list_work(
        self, results: Sequence[ResultRecord], versions: Versions, revised: set[int],
        early: list[Reanalysed],
    ) -> Iterator[tuple[ResultRecord, ClipTask]]:  # fmt: skip
        for before in results:
            place = self._find(before.clip_sha256)
            if before.result_id in revised:
                early.append(Reanalysed(before, "by_hand"))
            elif self._is_up_to_date(before, versions):
                early.append(Reanalysed(before, "present"))
            elif place is None:
                early.append(Reanalysed(before, "no_clip"))
            else:
                request = asked_of(before)
                yield before, ClipTask(before.clip_name, before.clip_sha256, request, **place)

    def _is_up_to_date(self, before: ResultRecord, versions: Versions) -> bool:
        if Versions(**before.report["versions"]) == versions:
            return True
        key = self._key(before, versions)
        return insist(
            lambda: self.history.is_up_to_date(key)
            or self.history.why_unmeasured(key) is not None
        )

    def _find(self, sha256: str) -> dict[str, Any] | None:
        if self.store.has(sha256):
            return {"store": self.store.address}
        path = self.elsewhere.get(sha256)
        return None if path is None else {"path": path}

    def _key(self, before: ResultRecord, versions: Versions) -> MeasuredBy:
        asked = hash_request(asked_of(before))
        return MeasuredBy(before.athlete, before.clip_sha256, asked, versions)

    def _save(self, before: ResultRecord, outcome: Outcome, versions: Versions) -> Reanalysed:
        now = datetime.now(UTC)
        if outcome.fault is not None:
            return Reanalysed(before, "fault", said=outcome.fault)
        if not outcome.is_measured:
            reason = outcome.refusal or first_refusal(outcome.report)
            insist(
                lambda: self.history.note_unmeasured(
                    self._key(before, versions), clip_name=before.clip_name, reason=reason,
                    noted_at=now,
                )
            )  # fmt: skip
            return Reanalysed(before, "no_number", said=reason)
        assert outcome.report is not None
        measured = Measured(
            outcome.report, before.athlete, before.on_date, before.clip_name, now,
            request=asked_of(before), track_sha256=outcome.track_sha256,
        )  # fmt: skip
        insist(lambda: self.history.save_results([measured]))
        return Reanalysed(before, "measured", outcome.report)


def asked_of(result: ResultRecord) -> dict[str, Any]:
    """Give what was asked of a result; for old ones that don't know it, what they show."""
    if result.request is not None:
        return result.request
    return {} if result.exercise is None else {"exercise": result.exercise}
