"""What tests of every room share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2] / "shared"


def _beside_the_checkout(folder: Path) -> Path:
    if folder.is_dir():
        return folder
    # A run that is meant to prove something must not pass by skipping its proof.
    if os.environ.get("CI") == "true":
        pytest.fail(f"the folder {folder.name} is not beside the checkout")
    pytest.skip(f"the folder {folder.name} is not beside the checkout")


@pytest.fixture(scope="session")
def shared_clips() -> Path:
    """Folder of drawn clips with their truth."""
    return _beside_the_checkout(SHARED / "clips")


@pytest.fixture(scope="session")
def shared_real() -> Path:
    """Folder of real films on which nothing may be found."""
    return _beside_the_checkout(SHARED / "real")


@pytest.fixture
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place for the user's data, so that no test touches the real one."""
    folder = tmp_path / "data"
    monkeypatch.setenv("FLIGHTMARK_DATA", str(folder))
    monkeypatch.delenv("FLIGHTMARK_DATABASE", raising=False)
    return folder
