"""The shelf of what was seen: whole files, old clips thrown away, no trouble where it can't be."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from app import seen
from app.seen import SeenShelf

CLIP, OTHER = "a" * 64, "b" * 64


def test_what_is_kept_is_found_until_it_is_forgotten(tmp_path: Path) -> None:
    shelf = SeenShelf(tmp_path / "seen")
    shelf.save(CLIP, "look.npz", b"points")
    assert shelf.load(CLIP, "look.npz") == b"points"
    assert shelf.load(OTHER, "look.npz") is None
    shelf.forget(CLIP)
    assert shelf.load(CLIP, "look.npz") is None


def test_the_folder_is_nobody_elses_business(tmp_path: Path) -> None:
    SeenShelf(tmp_path / "seen").save(CLIP, "look.npz", b"points")
    assert (tmp_path / "seen").stat().st_mode & 0o077 == 0


def test_what_nobody_asked_for_in_a_month_is_thrown_away(tmp_path: Path) -> None:
    shelf = SeenShelf(tmp_path)
    shelf.save(CLIP, "look.npz", b"points")
    os.utime(tmp_path / CLIP, (1.0, 1.0))
    shelf.save(OTHER, "look.npz", b"points")
    assert shelf.load(CLIP, "look.npz") is None
    assert shelf.load(OTHER, "look.npz") == b"points"


def test_no_more_clips_than_may(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(seen, "MOST_CLIPS", 2)
    shelf = SeenShelf(tmp_path)
    for letter in "abcd":
        shelf.save(letter * 64, "look.npz", b"points")
    assert len(list(tmp_path.iterdir())) == 2


def test_a_place_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "seen").write_text("a file in the way")
    shelf = SeenShelf(tmp_path / "seen")
    shelf.save(CLIP, "look.npz", b"points")
    assert shelf.load(CLIP, "look.npz") is None
