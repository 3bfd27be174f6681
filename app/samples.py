"""The sample clips that come with the package, and what is known about them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from measure.errors import UnreadableClip


@dataclass(frozen=True)
class SampleClip:
    """One clip with its truth file."""

    path: Path
    exercise: str
    stature_m: float
    is_measurable: bool
    true_jumps: tuple[dict[str, Any], ...]
    """As in the report: ``take_off_s``, ``flight_time_s``, ``height_m`` and more."""

    @property
    def name(self) -> str:
        """Name of the file without its ending."""
        return self.path.stem


def list_samples(folder: Path | None = None) -> list[SampleClip]:
    """Give the sample clips of a folder, by name.

    Parameters
    ----------
    folder : Path, optional
        Holds ``NAME.mp4`` and ``NAME.json``; default: the one in the package.

    Raises
    ------
    UnreadableClip
        There is none.
    """
    folder = folder or Path(str(files("sample_clips"))) / "clips"
    samples = [_sample(path) for path in sorted(folder.glob("*.mp4"))]
    if not samples:
        raise UnreadableClip(f"There are no sample clips in {folder}.", "Install flightmark anew.")
    return samples


def _sample(path: Path) -> SampleClip:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    return SampleClip(
        path=path,
        exercise=truth["exercise"],
        stature_m=truth["athlete"]["stature_m"],
        is_measurable=truth.get("measurable", True),
        true_jumps=tuple(truth.get("jumps", ())),
    )
