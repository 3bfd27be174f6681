"""``flightmark measure``: clips in, numbers with their doubt out."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits
from app.commands.values import (
    CAPTURE_RATE_HZ,
    LATITUDE_DEG,
    MASS_KG,
    START_S,
    STATURE_M,
    number_within,
    read_athlete,
    read_date,
    read_reference,
)
from app.exercises import EXERCISE_NAMES
from app.outputs import Outputs
from app.progress import ProgressLine
from app.report.quantities import plain
from measure.errors import NothingToMeasure, UnreadableClip
from measure.request import ClipRequest

if TYPE_CHECKING:
    from app.history import History
    from app.measuring import Measuring
    from measure.report import Report


LANE_EXERCISES = ("sprint", "shuffle_sprint")
MOST_PROCESSES = 4
"""A clip has few feet to look at: more would wait for each other."""


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "measure",
        help="measure one or more clips",
        description="Measures the jumps in one or more clips, or runs along a lane (--lane). "
        "Keeps no result unless --athlete is given.",
    )
    parser.add_argument("clips", nargs="+", type=Path, metavar="CLIP", help="video file")
    _add_facts(parser)
    _add_outputs(parser)
    parser.set_defaults(run=run)


def _add_facts(parser: argparse.ArgumentParser) -> None:
    facts = parser.add_argument_group("what is known about the clip")
    facts.add_argument(
        "--exercise",
        choices=EXERCISE_NAMES,
        metavar="KEY",
        help=f"one of {', '.join(EXERCISE_NAMES)}; default: what is seen",
    )
    facts.add_argument(
        "--stature-m",
        type=number_within(STATURE_M),
        metavar="M",
        help="the athlete's height without shoes, such as 1.72",
    )
    facts.add_argument(
        "--sex",
        choices=("female", "male"),
        help="whose table of body segments to use; default: the mean of both",
    )
    facts.add_argument(
        "--reference",
        type=read_reference,
        metavar="X1,Y1,X2,Y2,LENGTH_M",
        help="a known length at the athlete: its ends in pixels, and its metres",
    )
    facts.add_argument(
        "--capture-rate",
        type=number_within(CAPTURE_RATE_HZ),
        metavar="HZ",
        help="pictures per real second; overrules what the file says",
    )
    facts.add_argument(
        "--lane",
        type=Path,
        metavar="LANE.json",
        help="the marks of a run along a lane; the run is timed at them",
    )
    facts.add_argument(
        "--mass-kg",
        type=number_within(MASS_KG),
        metavar="KG",
        help="the athlete's mass, for the force of a sprint",
    )
    facts.add_argument(
        "--start-foot",
        choices=("left", "right"),
        help="the foot in front in the set position of a sprint; left and right starts are "
        "compared like sides",
    )
    facts.add_argument(
        "--start-s",
        type=number_within(START_S),
        metavar="S",
        help="when a run starts, in seconds of real time since the first picture; default: the "
        "first movement that is seen",
    )
    facts.add_argument(
        "--anew",
        action="store_true",
        help="look at the clip anew and keep nothing of it; else the body's points (no pictures) "
        "are kept for 30 days, so that measuring it again takes a moment",
    )
    facts.add_argument(
        "--latitude-deg",
        type=number_within(LATITUDE_DEG),
        metavar="DEG",
        help="for the local gravity; without it standard gravity (0.3 %% off)",
    )


def _add_outputs(parser: argparse.ArgumentParser) -> None:
    outputs = parser.add_argument_group("what to do with the result")
    outputs.add_argument(
        "--athlete", type=read_athlete, metavar="NAME", help="keep it in this athlete's history"
    )
    outputs.add_argument(
        "--date",
        type=read_date,
        metavar="YYYY-MM-DD",
        help="day of training; default: when the clip was filmed, else today",
    )
    outputs.add_argument(
        "--json",
        metavar="FILE",
        help="write the report as JSON, one line per clip where there are several; "
        "- for standard output and nothing else on it",
    )
    outputs.add_argument(
        "--annotate",
        type=Path,
        metavar="OUT.mp4",
        help="write the clip with what was seen drawn into it",
    )
    outputs.add_argument(
        "--frames",
        type=Path,
        metavar="DIR",
        help="write pictures of take-off, landing and the deepest moment",
    )


def run(arguments: argparse.Namespace, measuring: Measuring | None = None) -> int:
    """Measure every clip in turn; each is written and kept before the next one starts."""
    fault = _fault(arguments)
    if fault:
        print(f"flightmark measure: {fault}", file=sys.stderr)
        return exits.WRONG_CALL
    outputs = Outputs.from_arguments(arguments)
    outputs.check()
    _check_lane(arguments.lane)
    with ExitStack() as stack:
        history = stack.enter_context(_open_history()) if arguments.athlete else None
        job = _Job(arguments, measuring or _real_measuring(arguments), history, outputs)
        return max([_measure_or_refuse(job, clip) for clip in arguments.clips])


@dataclass(frozen=True)
class _Job:
    """What all clips of one call share."""

    arguments: argparse.Namespace
    measuring: Measuring
    history: History | None
    outputs: Outputs


def _fault(arguments: argparse.Namespace) -> str | None:
    clips: list[Path] = arguments.clips
    out: Path | None = arguments.annotate
    written = [Path(name).resolve() for name in (out, arguments.json) if name]
    if any(clip.resolve() in written for clip in clips):
        return "A result would be written over a clip; give it another name."
    if out and len(clips) > 1:
        return "--annotate draws one clip at a time; give one CLIP."
    if out and out.suffix.lower() != ".mp4":
        return "--annotate writes an MP4 file; give a name that ends in .mp4."
    if arguments.lane and arguments.exercise not in (None, *LANE_EXERCISES):
        return f"--lane is for a run; --exercise {arguments.exercise} is none."
    if arguments.frames and len({clip.stem for clip in clips}) < len(clips):
        return "--frames needs clips with different names."
    if arguments.date and not arguments.athlete:
        return "--date says on which day to keep the result; it needs --athlete."
    return None


def _check_lane(lane: Path | None) -> None:
    """Find a lane file's faults before the long work."""
    if lane is not None:
        from measure.io.lane_file import load_lane

        load_lane(lane)


def _open_history() -> History:
    from app.history import open_history

    return open_history()


def _real_measuring(arguments: argparse.Namespace) -> Measuring:
    from app.measuring import free_cores, real_measuring
    from app.seen import own_shelf

    shelf = None if arguments.anew else own_shelf()
    return real_measuring(processes=min(free_cores(), MOST_PROCESSES), shelf=shelf)


def _measure_or_refuse(job: _Job, clip: Path) -> int:
    try:
        return _measure(job, clip)
    except (UnreadableClip, NothingToMeasure) as error:
        name = "" if clip.name in error.seen else f"{clip.name}: "
        print(f"flightmark: {plain(f'{name}{error}')}", file=sys.stderr)
        is_empty = isinstance(error, NothingToMeasure)
        return exits.NOTHING_MEASURED if is_empty else exits.NOT_READ_OR_WRITTEN


def _measure(job: _Job, clip: Path) -> int:
    request = _request(job, clip)
    with ProgressLine(sys.stderr, plain(clip.name)) as progress:
        analysis = job.measuring.analyse(request, progress=progress)
        job.outputs.write_pictures(analysis, job.measuring, clip=clip, progress=progress)
    from app.report.text import render_report

    report: Report = analysis.report
    is_measured = bool(report.jumps) or report.sprint is not None
    job.outputs.write_json(report)
    if job.history is not None and is_measured:
        _keep(job, report, request)
    if not job.outputs.json_only:
        print("\n".join(render_report(report, name=clip.name)), end="\n\n")
    return exits.MEASURED if is_measured else exits.NOTHING_MEASURED


def _request(job: _Job, clip: Path) -> ClipRequest:
    arguments = job.arguments
    return ClipRequest(
        path=clip,
        exercise=arguments.exercise,
        stature_m=arguments.stature_m or _kept_stature_m(job),
        capture_rate_hz=arguments.capture_rate,
        reference=arguments.reference,
        latitude_deg=arguments.latitude_deg,
        sex=arguments.sex,
        lane=arguments.lane,
        mass_kg=arguments.mass_kg,
        start_foot=arguments.start_foot,
        start_s=arguments.start_s,
    )


def _kept_stature_m(job: _Job) -> float | None:
    athlete = job.history and job.history.find_athlete(job.arguments.athlete)
    if not athlete or athlete.stature_m is None:
        return None
    print(f"Stature {athlete.stature_m:.2f} m as kept for {athlete.name}.", file=sys.stderr)
    return athlete.stature_m


def _keep(job: _Job, report: Report, request: ClipRequest) -> None:
    from app.requests import request_as_json

    assert job.history is not None
    now = datetime.now(UTC)
    filmed_at = report.clip.recorded_at and datetime.fromisoformat(report.clip.recorded_at)
    job.history.save_result(
        report,
        athlete=job.arguments.athlete,
        on_date=job.arguments.date or (filmed_at or now).astimezone().date(),
        clip_name=request.path.name,
        saved_at=now,
        stature_m=request.stature_m,
        request=request_as_json(request),
    )
