"""Teams, accounts and the rights between them: who may see whom, asked of the database."""

from __future__ import annotations

from app.history.invitations import InvitationRecord, Invitations
from app.history.people_rows import SIGN_IN_LASTS, Taken, TooManyTries
from app.history.sign_ins import SignIns
from app.history.squads import AthleteFace, ConsentRecord, Squads, TeamRecord

__all__ = [
    "SIGN_IN_LASTS", "AthleteFace", "ConsentRecord", "InvitationRecord", "People", "Taken",
    "TeamRecord", "TooManyTries",
]  # fmt: skip


class People(SignIns, Squads, Invitations):
    """The accounts of a history."""
