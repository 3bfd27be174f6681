"""People as the pages know them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.names import tidy_name

Role = Literal["coach", "athlete"]
ADULT_YEARS = 18

CONSENT_WORDING = (
    "My clips are measured and kept on my team's own machine, together with what was measured. "
    "I and my team's coaches can see them, nobody else. I can have everything about me deleted "
    "at any time, on the page “Me”, clips included."
)


@dataclass(frozen=True)
class Viewer:
    """Somebody who is signed in, and what they may see."""

    account_id: int
    name: str
    role: Role
    athlete_id: int | None
    """Set for an athlete."""
    team_ids: tuple[int, ...]
    """A coach's teams; the teams an athlete is in."""
    uses_inches: bool = False
    uses_yards: bool = False

    @property
    def is_coach(self) -> bool:
        """Whether this is a coach."""
        return self.role == "coach"


@dataclass(frozen=True)
class NewPerson:
    """What somebody who joins says about themselves."""

    name: str
    sign_in_name: str
    password: str
    born_on: date | None = None
    stature_m: float | None = None
    sex: str | None = None
    mass_kg: float | None = None
    agrees: bool = False
    guardian: str = ""


def is_minor(born_on: date, *, today: date) -> bool:
    """Tell whether somebody is not yet of age."""
    before_birthday = (today.month, today.day) < (born_on.month, born_on.day)
    return today.year - born_on.year - before_birthday < ADULT_YEARS


def tidy_sign_in_name(text: str) -> str:
    """Give a sign-in name, such as an address for letters, in one form.

    Raises
    ------
    ValueError
        It is empty, too long or holds control characters.
    """
    try:
        return tidy_name(text)
    except ValueError as error:
        raise ValueError("A sign-in name has 1 to 100 letters.") from error


def check_joining(person: NewPerson, *, role: Role, today: date) -> None:
    """Make sure that somebody may join as they say.

    Raises
    ------
    ValueError
        In words for the person.
    """
    from app.accounts.secrets import check_password_rules

    try:
        tidy_name(person.name)
    except ValueError as error:
        raise ValueError("A name has 1 to 100 letters.") from error
    tidy_sign_in_name(person.sign_in_name)
    check_password_rules(person.password)
    if role == "coach":
        return
    if person.born_on is None or not 4 <= today.year - person.born_on.year <= 110:
        raise ValueError("Give your date of birth; whoever is under 18 needs a guardian's word.")
    if not person.agrees:
        raise ValueError("Nothing is kept without your agreement; tick the box to agree.")
    if is_minor(person.born_on, today=today) and not person.guardian.strip():
        raise ValueError("Under 18, a parent or guardian has to agree too: give their name.")
