"""How much quicker two workers are: ``python -m tests.benchmarks.batch [--clips N] [--rounds N]``.

Measures the same sample clips with one worker and with two, in turn, each worker bound to one
processor, and prints the ratio of the times. With ``--unbound`` a worker may use what others leave:
alone it then reads pictures ahead on a second processor, so that a second worker adds less.
Start-up is not counted: each cluster measures one clip beforehand. Other work on the machine spoils
the ratio: the load is printed beside it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from app.history import open_history
from app.jobs.batch import Batch, BatchItem
from app.jobs.cluster import Workers, open_workers
from app.measuring import real_measuring
from app.samples import list_samples
from measure.request import ClipRequest

LEAST_RATIO = 1.8


def main() -> int:
    """Run and print; 1 where the ratio is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=int, default=12)
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--unbound", action="store_true")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        clips = make_clips(Path(folder), arguments.clips + 1)
        times: dict[int, list[float]] = {1: [], 2: []}
        for number in range(arguments.rounds):
            for count in (1, 2) if number % 2 == 0 else (2, 1):
                place = Path(folder) / f"{number}-{count}"
                times[count].append(run(clips, count, place, is_bound=not arguments.unbound))
                print(f"  {count} workers: {times[count][-1]:.1f} s, load before "
                      f"{os.getloadavg()[0]:.1f}", flush=True)  # fmt: skip
    one, two = (statistics.median(times[count]) for count in (1, 2))
    is_good = one / two >= LEAST_RATIO
    print(f"{arguments.clips} clips: {one:.1f} s with one worker, {two:.1f} s with two: "
          f"{one / two:.2f} times as fast{'' if is_good else '   MISSED'}")  # fmt: skip
    return int(not is_good)


def make_clips(folder: Path, count: int) -> list[BatchItem]:
    """Copy the shortest sample clips, each copy another file by some bytes at its end."""
    samples = sorted(list_samples(), key=lambda sample: sample.path.stat().st_size)[:4]
    items = []
    for number in range(count):
        sample = samples[number % len(samples)]
        path = folder / f"{number}{sample.path.suffix}"
        # An empty box of the file's own format, which no reader looks into.
        more = f"{number:08d}".encode()
        box = (8 + len(more)).to_bytes(4, "big") + b"free" + more
        path.write_bytes(sample.path.read_bytes() + box)
        request = ClipRequest(path, exercise=sample.exercise, stature_m=sample.stature_m)
        items.append(BatchItem("Ada Brandt", request))
    return items


def run(clips: list[BatchItem], count: int, folder: Path, *, is_bound: bool) -> float:
    """Measure all clips but the first into a new history, and give how long that took."""
    folder.mkdir()
    with (
        open_history(f"sqlite:///{folder / 'history.sqlite'}") as history,
        open_workers(count=count) as workers,
    ):
        batch = Batch(history, real_measuring(), store=None)
        warm_up(batch, workers, clips[0], count, is_bound=is_bound)
        started = time.perf_counter()
        ends = Counter(each.end for each in batch.run(clips[1:], workers))
        spent_s = time.perf_counter() - started
    assert not ends.keys() & {"present", "fault"}, ends
    return spent_s


def warm_up(
    batch: Batch, workers: Workers, clip: BatchItem, count: int, *, is_bound: bool
) -> None:
    """Have every worker load what it measures with, and stand on a processor of its own."""
    client = workers._client
    client.wait_for_workers(count)
    client.run(batch.measuring.analyse, clip.request, progress=_silent)
    if is_bound:
        for place, address in enumerate(client.scheduler_info(n_workers=-1)["workers"]):
            client.run(bind, place, workers=[address])


def bind(place: int) -> None:
    """Keep all threads of this process, and those to come, on one processor."""
    usable = sorted(os.sched_getaffinity(0))
    for thread in os.listdir("/proc/self/task"):
        os.sched_setaffinity(int(thread), {usable[place % len(usable)]})


def _silent(_step: str, _part: float) -> None:
    pass


if __name__ == "__main__":
    sys.exit(main())
