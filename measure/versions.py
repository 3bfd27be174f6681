"""What made a report: program, pose model and the settings, which lie in the sources."""

from __future__ import annotations

import functools
import hashlib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import calibration
import measure
from measure.report import Versions

__all__ = ["installed_versions"]


def installed_versions(pose_model: str) -> Versions:
    """Name the program, its pose model and its settings.

    Parameters
    ----------
    pose_model : str
        Name of the model that poses come from.

    Returns
    -------
    Versions
        Its ``settings_sha256`` changes with any line of the rooms that measure: every setting
        and every constant that decides a number stands there.
    """
    try:
        installed = version("flightmark")
    except PackageNotFoundError:
        installed = "0+unknown"
    return Versions(installed, pose_model, _digest_of_sources())


@functools.cache
def _digest_of_sources() -> str:
    digest = hashlib.sha256()
    for room in (calibration, measure):
        folder = Path(room.__file__ or "").parent
        for file in sorted(folder.rglob("*.py")):
            content = file.read_bytes()
            digest.update(f"{file.relative_to(folder.parent).as_posix()} {len(content)}\n".encode())
            digest.update(content)
    return digest.hexdigest()
