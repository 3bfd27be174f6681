"""The command as a user runs it, over real clips."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from app.samples import list_samples

ROOT = Path(__file__).resolve().parents[2]
CALL = "import sys; from app.main import main; sys.exit(main(sys.argv[1:]))"


def flightmark(*argv: object, data: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", CALL, *map(str, argv)], capture_output=True, text=True, cwd=ROOT,
        env={**os.environ, "FLIGHTMARK_DATA": str(data)},
    )  # fmt: skip


@pytest.mark.slow
def test_a_clip_goes_all_the_way_into_the_history(tmp_path: Path) -> None:
    sample = next(each for each in list_samples() if each.is_measurable)
    done = flightmark(
        "measure", sample.path, "--stature-m", sample.stature_m, "--json", "-",
        "--athlete", "Mika Orlov", data=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (jump,) = json.loads(done.stdout)["jumps"]
    error_s = jump["flight_time_s"] - sample.true_jumps[0]["flight_time_s"]
    assert abs(error_s) < 4 * jump["flight_time_sigma_s"]
    assert jump["flight_time_sigma_s"] < 0.015
    kept = flightmark("history", "Mika Orlov", "--csv", "-", data=tmp_path)
    assert kept.returncode == 0
    assert str(jump["height_m"]) in kept.stdout


@pytest.mark.parametrize(
    ("name", "content"),
    [("text.mp4", b"Dear reader, " * 99), ("empty.mp4", b""), ("none.mp4", None)],
)
def test_a_file_that_is_no_clip_is_told_in_one_sentence(
    tmp_path: Path, name: str, content: bytes | None
) -> None:
    clip = tmp_path / name
    if content is not None:
        clip.write_bytes(content)
    done = flightmark(
        "measure", clip, "--athlete", "M", "--json", tmp_path / "o.json", data=tmp_path / "data"
    )
    assert done.returncode == 3
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert name in done.stderr
    assert not (tmp_path / "o.json").exists()
    assert flightmark("history", "M", data=tmp_path / "data").returncode == 1
