"""Poorer copies of a clip: poorer pictures, the same moments and the same truth."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import av
import numpy as np
import pytest

import sample_clips
from sample_clips.film import ask_for_turn
from sample_clips.spoil import SPOILERS, main, spoil

CLIPS = Path(sample_clips.__file__).parent / "clips"


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first half second of a sample clip, turned as a phone held upright does."""
    folder = tmp_path_factory.mktemp("good")
    whole = min(CLIPS.glob("*.mp4"), key=lambda path: path.stat().st_size)
    path = folder / "jump.mp4"
    with av.open(str(whole)) as source, av.open(str(path), "w") as out:
        stream = source.streams.video[0]
        copy = out.add_stream_from_template(stream)
        for packet in list(source.demux(stream))[:30]:
            packet.stream = copy
            out.mux(packet)
    ask_for_turn(path, 90)
    truth = json.loads(whole.with_suffix(".json").read_text())
    truth["file"]["rotation_deg"] = 90
    path.with_suffix(".json").write_text(json.dumps(truth))
    return path


def pictures(path: Path) -> tuple[list[float], np.ndarray]:
    with av.open(str(path)) as container:
        frames = list(container.decode(video=0))
    return [float(frame.time) for frame in frames], np.stack(
        [frame.to_ndarray(format="gray") for frame in frames]
    ).astype(float)


@pytest.mark.parametrize("kind", sorted(SPOILERS))
def test_moments_turn_and_truth_stay_and_pictures_do_not(
    film: Path, tmp_path: Path, kind: str
) -> None:
    poorer = spoil(film, tmp_path, kind)
    times_s, good = pictures(film)
    poorer_s, poor = pictures(poorer)
    kept = np.isin(np.round(times_s, 6), np.round(poorer_s, 6))
    assert kept.sum() == len(poorer_s)
    assert kept.all() == (kind not in ("stuttering", "halved"))
    truth, same = (json.loads(path.with_suffix(".json").read_text()) for path in (film, poorer))
    assert same["jumps"] == truth["jumps"]
    fewer = 2 if kind == "halved" else 1
    assert same["file"]["capture_rate_hz"] == truth["file"]["capture_rate_hz"] / fewer
    assert (same["file"]["height_px"], same["file"]["width_px"]) == poor.shape[:0:-1]
    with av.open(str(poorer)) as container:
        assert next(container.decode(video=0)).rotation % 180 == 90
    if kind == "small":
        assert poor.shape[1] == good.shape[1] // 2
    else:
        assert 0.5 < np.abs(poor - good[kept])[-1].mean() < 110


def test_a_folder_with_its_truth(film: Path, tmp_path: Path) -> None:
    shutil.copy(film, tmp_path / "no_truth.mp4")
    main([str(film.parent), str(tmp_path), "--only", "jump"])
    assert len(list(tmp_path.glob("jump_*.mp4"))) == len(SPOILERS)
    assert len(list(tmp_path.glob("*.json"))) == len(SPOILERS)


def test_one_kind_alone(film: Path, tmp_path: Path) -> None:
    main([str(film.parent), str(tmp_path), "--kind", "halved"])
    assert [path.name for path in tmp_path.glob("*.mp4")] == ["jump_halved.mp4"]
    assert len(pictures(tmp_path / "jump_halved.mp4")[0]) == len(pictures(film)[0]) // 2
