"""Athletes' names: one form for each, and one key for all spellings in upper and lower case."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

LONGEST_NAME = 100


@lru_cache(maxsize=10_000)
def tidy_name(text: str) -> str:
    """Give an athlete's name in one form.

    Raises
    ------
    ValueError
        It is empty, too long or holds control characters.
    """
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not 1 <= len(name) <= LONGEST_NAME:
        raise ValueError(f"athlete: expected a name of 1 to {LONGEST_NAME} letters, got {text!r}")
    if any(unicodedata.category(letter) == "Cc" for letter in name):
        raise ValueError(f"athlete: expected a name without control characters, got {text!r}")
    return name


@lru_cache(maxsize=10_000)
def name_key(text: str) -> str:
    """Give what two spellings of the same name have in common."""
    return unicodedata.normalize("NFC", tidy_name(text).casefold())
