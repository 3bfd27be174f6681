"""Passwords and one-time tokens: what is shown once, and what of it is kept."""

from __future__ import annotations

import hashlib
import secrets

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200

_HASHER = PasswordHasher()
_NOBODY = _HASHER.hash("nobody's password, so that an unknown name takes as long as a known one")


def check_password_rules(password: str) -> str:
    """Give the password back if it may be one.

    Raises
    ------
    ValueError
        It is too short or too long.
    """
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise ValueError(
            f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} letters; "
            f"this one has {len(password)}."
        )
    return password


def hash_password(password: str) -> str:
    """Give what is kept of a password (argon2id with its own salt)."""
    return _HASHER.hash(password)


def is_password(password: str, kept_hash: str | None) -> bool:
    """Tell whether a password fits; takes as long where there is nothing to fit."""
    if len(password) > LONGEST_PASSWORD:
        return False
    try:
        return _HASHER.verify(kept_hash or _NOBODY, password) and kept_hash is not None
    except (VerificationError, InvalidHashError):
        return False


def new_token() -> str:
    """Give a fresh secret for a cookie or a link."""
    return secrets.token_urlsafe(32)


def digest(token: str) -> str:
    """Give what is kept of a token, or of a name that need not be readable."""
    return hashlib.sha256(token.encode()).hexdigest()
