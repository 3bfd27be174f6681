"""``flightmark demo``: the sample clips measured for real, into a demo team's own history."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits
from app.folders import FOLDER_VARIABLE, STORE_FOLDER, data_folder, sqlite_url
from app.progress import ProgressLine
from measure.errors import NothingToMeasure, UnreadableClip
from measure.request import ClipRequest

if TYPE_CHECKING:
    from app.clip_files import ClipFiles
    from app.history import History
    from app.measuring import Measuring
    from app.report.demo_text import Trial
    from app.samples import SampleClip
    from measure.report import Report


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "demo",
        help="measure the sample clips and fill a demo team's history",
        description="Measures the sample clips that come with flightmark, compares the numbers "
        "with their known truth, and fills the history of an invented team, apart from yours.",
    )
    parser.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="where the demo history is kept; default: beside your own",
    )
    parser.set_defaults(run=run)


def run(
    arguments: argparse.Namespace,
    measuring: Measuring | None = None,
    *,
    clips_folder: Path | None = None,
) -> int:
    """Measure every sample clip once and show what came of it."""
    from app.clip_files import ClipFiles
    from app.history import open_history
    from app.measuring import real_measuring
    from app.report.demo_text import render_next_steps, render_trials
    from app.report.history_text import render_history
    from app.samples import list_samples
    from app.store import open_store

    folder = arguments.folder or data_folder() / "demo"
    samples = list_samples(clips_folder)
    films = None if measuring else ClipFiles(open_store(str(folder / STORE_FOLDER)))
    measuring = measuring or real_measuring()
    print(f"Measuring {len(samples)} sample clips. They are drawn, so their truth is exact.")
    with open_history(sqlite_url(folder)) as history:
        trials = [_try(sample, measuring, history, films) for sample in samples]
        print("\n".join(["", *render_trials(trials), ""]))
        shown = _most_kept(history)
        if shown is not None:
            print("\n".join(render_history(history.list_jumps(shown), athlete=shown)))
    print("\n".join(["", *render_next_steps(folder, athlete=shown, variable=FOLDER_VARIABLE)]))
    return exits.MEASURED if shown is not None else exits.NOTHING_MEASURED


def _try(
    sample: SampleClip, measuring: Measuring, history: History, films: ClipFiles | None
) -> Trial:
    from app.report.demo_text import Trial

    request = ClipRequest(sample.path, exercise=sample.exercise, stature_m=sample.stature_m)
    try:
        with ProgressLine(sys.stderr, sample.name) as progress:
            analysis = measuring.analyse(request, progress=progress)
    except (UnreadableClip, NothingToMeasure) as error:
        return Trial(sample, None, str(error))
    report: Report = analysis.report
    if report.jumps:
        _keep(sample, report, history)
        if films is not None:
            _keep_film(sample, analysis, measuring, films)
    return Trial(sample, report)


def _keep(sample: SampleClip, report: Report, history: History) -> None:
    from app.demo_team import TEAM, WEEK_COUNT

    today = date.today()
    for visit in TEAM:
        if visit.clip == sample.name:
            history.save_result(
                report,
                athlete=visit.athlete,
                on_date=today - timedelta(weeks=WEEK_COUNT - visit.week),
                clip_name=sample.path.name,
                saved_at=datetime.now(UTC),
                stature_m=sample.stature_m,
            )


def _keep_film(
    sample: SampleClip, analysis: Any, measuring: Measuring, films: ClipFiles
) -> None:
    """Keep the clip and its pictures where the pages look for them."""
    from app.clip_files import drawing_folder

    sha256 = films.keep_clip(sample.path)
    slow = analysis.report.time_base.file_s_per_s
    films.keep_frame_times(sha256, [time_s * slow for time_s in analysis.frame_time_s])
    with drawing_folder() as folder:
        films.keep_stills(sha256, measuring.write_stills(analysis, folder))


def _most_kept(history: History) -> str | None:
    athletes = history.list_athletes()
    return max(athletes, key=lambda each: each.clip_count).name if athletes else None
