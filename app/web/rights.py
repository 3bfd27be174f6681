"""May this viewer see that? Asked of the database wherever something of somebody is shown."""

from __future__ import annotations

from app.accounts.people import Viewer
from app.history.clip_jobs import JobRecord
from app.history.reviews import ClipRecord
from app.web.services import Services


class NotYours(Exception):
    """It does not exist, or is not the viewer's to see: nobody learns which."""


def clip_for(viewer: Viewer, clip_id: int, at: Services) -> ClipRecord:
    """Give a clip that the viewer may see.

    Raises
    ------
    NotYours
        There is none.
    """
    clip = at.desk.reviews.find_clip(clip_id)
    if clip is None or not at.desk.people.may_see(viewer, clip.athlete_id):
        raise NotYours
    return clip


def job_for(viewer: Viewer, job_id: int, at: Services) -> JobRecord:
    """Give an uploaded clip that the viewer may see.

    Raises
    ------
    NotYours
        There is none.
    """
    job = at.desk.jobs.find(job_id)
    if job is None or not at.desk.people.may_see(viewer, job.athlete_id):
        raise NotYours
    return job


def check_athlete(viewer: Viewer, athlete_id: int, at: Services) -> None:
    """Make sure that the viewer may see an athlete.

    Raises
    ------
    NotYours
        They may not.
    """
    if not at.desk.people.may_see(viewer, athlete_id):
        raise NotYours


def check_team(viewer: Viewer, team_id: int) -> None:
    """Make sure that a coach has a team.

    Raises
    ------
    NotYours
        They have not.
    """
    if not viewer.is_coach or team_id not in viewer.team_ids:
        raise NotYours


def check_content(viewer: Viewer, sha256: str, at: Services) -> None:
    """Make sure that the viewer may see files of a content.

    Raises
    ------
    NotYours
        None of those whose clip it is may be seen.
    """
    owners = at.desk.reviews.list_owners(sha256)
    if not any(at.desk.people.may_see(viewer, owner) for owner in owners):
        raise NotYours
