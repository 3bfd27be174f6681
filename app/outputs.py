"""Where the results of one call go besides the terminal: JSON, annotated clip, pictures."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.atomic import check_folder, check_place, write_text

if TYPE_CHECKING:
    from app.measuring import Measuring, Progress
    from measure.report import Report

TO_STDOUT = "-"


@dataclass
class Outputs:
    """The outputs that a call asks for."""

    json: str | None
    annotate: Path | None
    frames: Path | None
    clip_count: int
    _written: list[str] = field(default_factory=list)

    @classmethod
    def from_arguments(cls, arguments: argparse.Namespace) -> Outputs:
        """Take them from the command line."""
        return cls(arguments.json, arguments.annotate, arguments.frames, len(arguments.clips))

    @property
    def json_only(self) -> bool:
        """Whether standard output belongs to the JSON."""
        return self.json == TO_STDOUT

    def check(self) -> None:
        """Make sure, before long work, that there is a place for each.

        Raises
        ------
        OutputFailed
            There is none.
        """
        if self.json is not None and not self.json_only:
            check_place(Path(self.json))
        if self.annotate is not None:
            check_place(self.annotate)
        if self.frames is not None:
            check_folder(self.frames)

    def write_pictures(
        self, analysis: Any, measuring: Measuring, *, clip: Path, progress: Progress
    ) -> None:
        """Write the annotated clip and the pictures that were asked for."""
        if self.annotate is not None:
            measuring.annotate(analysis, self.annotate, progress=progress)
        if self.frames is not None:
            folder = self.frames / clip.stem if self.clip_count > 1 else self.frames
            folder.mkdir(parents=True, exist_ok=True)
            measuring.write_stills(analysis, folder)

    def write_json(self, report: Report) -> None:
        """Write the report; where there are several clips, the ones so far too."""
        if self.json is None:
            return
        from measure.report import as_json

        indent = 2 if self.clip_count == 1 else None
        text = json.dumps(as_json(report), indent=indent, ensure_ascii=False, allow_nan=False)
        self._written.append(f"{text}\n")
        if self.json_only:
            sys.stdout.write(self._written[-1])
            sys.stdout.flush()
        else:
            write_text(Path(self.json), "".join(self._written))
