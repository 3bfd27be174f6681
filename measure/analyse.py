"""From one clip to its report: the one place where reading and physics meet."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread

from measure.analysis import Analysis
from measure.film import check_film, check_whole
from measure.io.athlete import POSE_RATE_HZ, AthleteSettings
from measure.io.kept import KeptStrips
from measure.io.look import FirstLook, look_at_clip
from measure.io.pose import PoseModel, Restful
from measure.io.read import Clip, open_clip
from measure.io.shelf import Looked, Shelf
from measure.request import ClipRequest, Reference
from measure.versions import installed_versions

__all__ = ["Analysis", "ClipRequest", "Reference", "analyse_clip"]

Progress = Callable[[str, float], None]

LANE_EXERCISES = ("sprint", "shuffle_sprint")


def analyse_clip(
    request: ClipRequest, *, progress: Progress | None = None, model: PoseModel | None = None,
    processes: int = 1, pose_rate_hz: float = POSE_RATE_HZ, shelf: Shelf | None = None,
) -> Analysis:  # fmt: skip
    """Measure one clip.

    Parameters
    ----------
    request : ClipRequest
    progress : callable, optional
        Told the name of the step and the part of it that is done, 0 to 1.
    model : PoseModel, optional
        The bundled one where None.
    processes : int
        How many look at the feet; the answers are the same. More than one starts fresh
        interpreters that import the main module again, so a script needs its main guard.
    pose_rate_hz : float
        Poses per second of file time, at least. More of them hardly move an event: feet are timed
        in the pixels of every frame.
    shelf : Shelf, optional
        Keeps what is seen of the body, so that the same clip is not looked at twice.

    Returns
    -------
    Analysis

    Raises
    ------
    UnreadableClip
        When the file is no film, too long, or holds too few pictures.
    NothingToMeasure
        When nobody can be followed or the camera moves along.
    """
    told = progress or (lambda step, part: None)
    with open_clip(request.path) as clip:
        check_film(clip)
        pose_model = model or _bundled_pose()
        if request.lane is not None or request.exercise in LANE_EXERCISES:
            from measure.analyse_run import analyse_run  # slow to import, and no jump needs it

            return analyse_run(clip, request, pose_model, told)
        rest = Thread(target=_import_rest)
        rest.start()
        looked = Looked(shelf, clip.stream.sha256, _seen_by(pose_model.name, pose_rate_hz))
        kept = KeptStrips(clip.stream.width_px, interval_s=clip.stamps.usual_interval_s)
        look = looked.look(lambda: _look(clip, pose_model, pose_rate_hz, kept, told))
        rest.join()  # to the end: only a process with a single thread can be copied for the feet
        from measure.analyse_jumps import FeetWatch, analyse_jumps

        return analyse_jumps(
            clip, look, request, looked=looked, watch=FeetWatch(kept, told, processes),
            pose_model=pose_model.name,
        )  # fmt: skip


def _import_rest() -> None:
    """Import what comes after the first look while pictures are decoded: it takes a while."""
    import measure.analyse_jumps  # noqa: F401


def _look(
    clip: Clip, model: PoseModel, pose_rate_hz: float, kept: KeptStrips, told: Progress
) -> FirstLook:
    look = look_at_clip(
        clip, model, settings=AthleteSettings(pose_rate_hz),
        progress=lambda part: told("poses", part), kept=kept,
    )  # fmt: skip
    check_whole(clip)
    if isinstance(model, Restful):
        model.rest()  # feet need the memory
    return look


def _seen_by(pose_model: str, pose_rate_hz: float) -> str:
    """All that decides what is seen in a clip: the versions name the program's own files too."""
    return f"{installed_versions(pose_model)} {AthleteSettings(pose_rate_hz)}"


def _bundled_pose() -> PoseModel:
    from measure.io.pose_landmarks import BundledPose

    return BundledPose()
