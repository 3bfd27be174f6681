"""How quick measuring is: ``python -m tests.benchmarks.speed [CLIP …] [--lengths]``.

Runs, one after the other on the same clip, decoding alone (the floor), the plain way (a pose on
every frame through the model's own Python interface: the ceiling), what no measuring can do without
(decoding, and 60 poses a second on all cores) and ``flightmark measure`` as a whole process, and
prints time, processor time, memory, ratios and the time of each step. Without a clip it makes its
own, at the sizes, rates and bit rates of phones.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.benchmarks.phone_clips import LENGTHS, USUAL, PhoneClip, encoders, make_phone_clip
from tests.benchmarks.usage import Usage, python, run_measured

CONTENDERS = ("-m", "tests.benchmarks.contenders")
COMMAND = "from app.main import run; run()"
NOTHING_MEASURED = 1


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.speed", description=__doc__)
    parser.add_argument("clips", nargs="*", type=Path, metavar="CLIP")
    parser.add_argument("--folder", type=Path, help="where made clips are kept; else thrown away")
    parser.add_argument("--only", default="", help="made clips whose name contains this")
    parser.add_argument("--lengths", action="store_true", help="5, 30 and 120 s of one film")
    parser.add_argument("--repeat", type=int, default=1, help="runs of each; the quickest counts")
    asked = parser.parse_args(arguments)
    with _folder(asked.folder) as folder:
        for clip in asked.clips or _made(folder, LENGTHS if asked.lengths else USUAL, asked.only):
            print_clip(clip, repeat=asked.repeat, with_plain=not asked.lengths)


@contextmanager
def _folder(kept: Path | None) -> Iterator[Path]:
    if kept is not None:
        kept.mkdir(parents=True, exist_ok=True)
        yield kept
        return
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


def _made(folder: Path, wanted: Sequence[PhoneClip], only: str) -> Iterator[Path]:
    can_write = encoders()
    for clip in wanted:
        if only in clip.name:
            if clip.codec in can_write:
                yield make_phone_clip(folder, clip)
            else:
                print(f"{clip.name}: this machine writes no {clip.codec}\n")


def print_clip(clip: Path, *, repeat: int = 1, with_plain: bool = True) -> dict[str, Usage]:
    """Run all contenders on one clip and print what they took."""
    size_mb = clip.stat().st_size / 1e6
    frames, duration_s = _frames(clip)
    print(f"{clip.name}: {frames} frames, {duration_s:.1f} s, {8 * size_mb / duration_s:.1f} Mb/s")
    runs: dict[str, list[Usage]] = {}
    for _ in range(repeat):  # in turn, so that a busy moment hits all of them
        for name, command in _commands(clip, with_plain).items():
            runs.setdefault(name, []).append(run_measured(command, allowed=(0, NOTHING_MEASURED)))
    best = {name: min(several, key=lambda one: one.wall_s) for name, several in runs.items()}
    _print_table(best, frames)
    seen = json.loads(run_measured(python(*CONTENDERS, "stages", str(clip))).printed)
    print("  steps, s: " + ", ".join(f"{step} {s:.2f}" for step, s in seen["stages_s"].items()))
    again = ", ".join(f"{what} {1e3 * s:.0f} ms" for what, s in seen["again_cpu_s"].items())
    print(f"  measured again, processor: {again}\n", flush=True)
    return best


def _commands(clip: Path, with_plain: bool) -> dict[str, list[str]]:
    commands = {
        "decode": python(*CONTENDERS, "decode", str(clip)),
        "plain": python(*CONTENDERS, "plain", str(clip)),
        "least": python(*CONTENDERS, "least", str(clip)),
        "measure": python("-c", COMMAND, "measure", str(clip), "--json", "-", "--anew"),
    }
    if not with_plain:
        del commands["plain"]
    return commands


def _print_table(best: dict[str, Usage], frames: int) -> None:
    print(f"  {'':18s}" + "".join(f"{name:>9s}" for name in best) + _ratio_heads(best))
    for title, of in (
        ("wall, s", lambda one: one.wall_s),
        ("processor, s", lambda one: one.cpu_s),
        ("processor, ms/frame", lambda one: 1e3 * one.cpu_s / frames),
        ("peak memory, MB", lambda one: one.peak_mb),
    ):
        values = {name: of(one) for name, one in best.items()}
        print(
            f"  {title:18s}" + "".join(f"{one:9.2f}" for one in values.values()) + _ratios(values)
        )


def _ratio_heads(best: dict[str, Any]) -> str:
    return ("   plain/least   plain/measure" if "plain" in best else "") + "  measure/decode"


def _ratios(values: dict[str, float]) -> str:
    plain = ""
    if "plain" in values:
        plain = f"{values['plain'] / values['least']:14.2f}"
        plain += f"{values['plain'] / values['measure']:16.2f}"
    return plain + f"{values['measure'] / values['decode']:16.2f}"


def _frames(clip: Path) -> tuple[int, float]:
    import av

    with av.open(str(clip)) as container:
        stream = container.streams.video[0]
        return stream.frames, float((stream.duration or 0) * (stream.time_base or 0))


if __name__ == "__main__":
    main()
