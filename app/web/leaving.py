"""Everything about an athlete goes: rows first, then every file that was only theirs."""

from __future__ import annotations

import json

from app.web.services import Services


def delete_everything(at: Services, athlete_id: int) -> None:
    """Delete an athlete's rows, clips, pictures, body tracks and half-sent uploads."""
    contents = at.desk.people.list_clip_hashes(athlete_id)
    tracks = at.desk.people.list_track_hashes(athlete_id)
    at.desk.people.delete_athlete(athlete_id)
    for sha256 in contents:
        at.files.delete(sha256)
    for sha256 in tracks:
        at.files.delete_track(sha256)
    at.wake_runner()
    for told in at.uploads_folder.glob("*.json"):
        if json.loads(told.read_text(encoding="utf-8")).get("athlete_id") == athlete_id:
            told.with_suffix(".part").unlink(missing_ok=True)
            told.unlink(missing_ok=True)
