"""The measuring room itself on workers: what a batch saves is what a single run gives."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from app.history import open_history
from app.jobs.batch import Batch, BatchItem
from app.jobs.cluster import open_workers
from app.measuring import real_measuring
from app.samples import list_samples
from app.store import open_store
from measure.report import as_json
from measure.request import ClipRequest

SHORTEST = "vertical_stiff_side_120"


@pytest.mark.slow
def test_a_real_clip_is_measured_the_same_on_a_worker(tmp_path: Path) -> None:
    sample = next(each for each in list_samples() if each.name == SHORTEST)
    clip = Path(shutil.copy(sample.path, tmp_path))
    request = ClipRequest(clip, exercise="vertical", stature_m=sample.stature_m)
    measuring = real_measuring()
    store = open_store(str(tmp_path / "store"))
    with open_history(f"sqlite:///{tmp_path / 'history.sqlite'}") as history:
        with open_workers(count=1) as workers:
            batch = Batch(history, measuring, store)
            (ended,) = batch.run([BatchItem("Ada Brandt", request)], workers)
        (kept,) = history.list_results("Ada Brandt")
    assert ended.end == "measured", ended.said
    single = measuring.analyse(request, progress=lambda _step, _part: None)
    assert kept.report == as_json(single.report)
    assert kept.jumps == single.report.jumps
    assert store.has(kept.clip_sha256)
