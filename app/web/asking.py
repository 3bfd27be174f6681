"""What several pages ask: an athlete's repetitions, a clip with its words, the athletes seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from app.accounts.people import Viewer
from app.history.people import AthleteFace
from app.history.plans import Entry
from app.history.reviews import ClipRecord, MoveRecord
from app.history.words import NoteRecord, VerdictRecord
from app.repetitions import Repetition, list_repetitions, repetitions_of_clip
from app.standing import Standing, best_of_clip, stand, worth_a_look
from app.web.rights import check_athlete, clip_for
from app.web.services import Services

WAITING_SINCE = timedelta(days=28)
"""What nobody has looked at for longer is no news any more."""


@dataclass(frozen=True)
class ClipView:
    """One clip with everything that is said about it."""

    clip: ClipRecord
    repetitions: list[Repetition]
    standing: Standing | None
    verdicts: dict[tuple[int, int], VerdictRecord]
    notes: list[NoteRecord]
    moves: list[MoveRecord]
    frame_times: list[float]
    stills: list[str]
    has_annotated: bool
    has_clip: bool
    planned: Entry | None
    """Line of that day's plan that asked for it."""


def repetitions_of(at: Services, athlete_ids: Sequence[int]) -> list[Repetition]:
    """Give every repetition of some athletes, whom the viewer may see."""
    clips = at.desk.reviews.list_clips(athlete_ids)
    return list_repetitions(clips, at.desk.reviews.list_verdicts_of(athlete_ids))


def team_repetitions(
    at: Services, athlete_ids: Sequence[int], *, since: date | None
) -> list[Repetition]:
    """Give the numbers of many athletes, without their reports."""
    clips = at.desk.numbers.list_numbers(athlete_ids, since=since)
    verdicts = at.desk.reviews.list_verdicts_of(athlete_ids)
    return [
        each
        for item in clips
        for each in repetitions_of_clip(item.clip, item.jumps, item.sprint, verdicts)
    ]


def athlete_repetitions(at: Services, viewer: Viewer, athlete_id: int) -> list[Repetition]:
    """Give an athlete's repetitions.

    Raises
    ------
    NotYours
        The viewer may not see them.
    """
    check_athlete(viewer, athlete_id, at)
    return repetitions_of(at, [athlete_id])


def view_clip(at: Services, viewer: Viewer, clip_id: int) -> ClipView:
    """Give a clip with everything that is said about it.

    Raises
    ------
    NotYours
        There is none that the viewer may see.
    """
    clip = clip_for(viewer, clip_id, at)
    everything = repetitions_of(at, [clip.athlete_id])
    mine = [each for each in everything if each.clip.clip_id == clip_id]
    shown = best_of_clip(mine)
    files, reviews = at.files, at.desk.reviews
    return ClipView(
        clip=clip,
        repetitions=mine,
        standing=None if shown is None else stand(shown, everything),
        verdicts=reviews.list_verdicts([clip_id]),
        notes=reviews.list_notes(clip_id),
        moves=reviews.list_moves(clip_id),
        frame_times=files.frame_times(clip.clip_sha256),
        stills=files.list_stills(clip.clip_sha256),
        has_annotated=files.find_annotated(clip.clip_sha256) is not None,
        has_clip=files.has_clip(clip.clip_sha256),
        planned=_planned(at, viewer, clip),
    )


def _planned(at: Services, viewer: Viewer, clip: ClipRecord) -> Entry | None:
    days = at.desk.plans.list_days(viewer.team_ids, first=clip.on_date, last=clip.on_date)
    entries = [entry for day in days for entry in day.entries if entry.exercise is not None]
    return next((entry for entry in entries if entry.exercise == clip.exercise), None)


@dataclass(frozen=True)
class Waiting:
    """A clip that a coach should look at, and why."""

    clip: ClipRecord
    reasons: list[str]


def list_waiting(at: Services, viewer: Viewer) -> list[Waiting]:
    """Give the clips of the last weeks worth a look that nobody has judged, oldest first."""
    athletes = [each.athlete_id for each in at.desk.people.list_athletes(viewer)]
    since = datetime.now(UTC).date() - WAITING_SINCE
    clips = at.desk.reviews.list_clips(athletes, since=since)
    judged = {clip_id for clip_id, _ in at.desk.reviews.list_verdicts_of(athletes)}
    found = [
        Waiting(clip, reasons)
        for clip in clips
        if clip.clip_id not in judged and (reasons := worth_a_look(clip.report))
    ]
    return sorted(found, key=lambda each: (each.clip.on_date, each.clip.filmed_at))


def pick_athlete(faces: Sequence[AthleteFace], asked: int | None) -> AthleteFace | None:
    """Give the athlete that a page's address asks for, else the first."""
    asked_face = [each for each in faces if each.athlete_id == asked]
    return next(iter([*asked_face, *faces]), None)


def monday_of(day: date) -> date:
    """Give the Monday of a day's week."""
    return day - timedelta(days=day.weekday())
