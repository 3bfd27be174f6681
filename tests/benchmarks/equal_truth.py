"""What speed costs in truth: ``python -m tests.benchmarks.equal_truth CLIP …``.

Measures each clip as usual and with a pose on every frame, and prints by how much the events
differ, and both errors where a truth file lies beside the clip.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from measure.analyse import ClipRequest, analyse_clip
from measure.io.athlete import POSE_RATE_HZ
from measure.report import JumpReport

SAME_JUMP_S = 0.15
KINDS = ("take_off_s", "landing_s")


def main(arguments: Sequence[str] | None = None) -> None:
    """Compare and print."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.equal_truth", description=__doc__
    )
    parser.add_argument("clips", nargs="+", type=Path, metavar="CLIP")
    differences: list[float] = []
    for clip in parser.parse_args(arguments).clips:
        differences += compare_clip(clip)
    if differences:
        rms_ms = 1e3 * np.sqrt(np.mean(np.square(differences)))
        worst_ms = 1e3 * np.abs(differences).max()
        print(f"{len(differences)} events: RMS {rms_ms:.2f} ms, worst {worst_ms:.2f} ms")


def compare_clip(clip: Path) -> list[float]:
    """Differences of all events of a clip, usual less every frame, seconds."""
    truth = _truth(clip)
    stature_m = truth.get("athlete", {}).get("stature_m")
    usual, every = (
        analyse_clip(ClipRequest(clip, stature_m=stature_m), pose_rate_hz=rate_hz).report.jumps
        for rate_hz in (POSE_RATE_HZ, float("inf"))
    )
    if len(usual) != len(every):
        print(f"{clip.stem}: {len(usual)} jumps, with every frame {len(every)}")
    differences = []
    for jump in usual:
        other = _nearest(jump.take_off_s, every, name="take_off_s")
        if other is not None:
            own = [getattr(jump, kind) - getattr(other, kind) for kind in KINDS]
            differences += own
            print(f"{clip.stem}: {_line(own)}{_errors(jump, other, truth)}", flush=True)
    return differences


def _truth(clip: Path) -> dict[str, Any]:
    file = clip.with_suffix(".json")
    return json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def _nearest(at_s: float, jumps: Sequence[Any], *, name: str) -> Any:
    near = [one for one in jumps if abs(getattr(one, name) - at_s) < SAME_JUMP_S]
    return near[0] if near else None


def _errors(jump: JumpReport, other: JumpReport, truth: dict[str, Any]) -> str:
    for true in truth.get("jumps", []):
        if abs(true["take_off_s"] - jump.take_off_s) < SAME_JUMP_S:
            errors = [[getattr(one, kind) - true[kind] for kind in KINDS] for one in (jump, other)]
            return f"; errors {_line(errors[0])}, with every frame {_line(errors[1])}"
    return ""


def _line(pair_s: Sequence[float]) -> str:
    return "take-off {:+.2f} ms, landing {:+.2f} ms".format(*(1e3 * one for one in pair_s))


if __name__ == "__main__":
    main()
