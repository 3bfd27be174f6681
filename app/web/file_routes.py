"""Clips, pictures and printouts: each only to those who may see it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from app.accounts.people import Viewer
from app.web.clip_files import SUFFIXES
from app.web.rights import NotYours, check_athlete, check_content, check_team, job_for
from app.web.services import services

PRIVATE = {"Cache-Control": "private, max-age=600"}
FRESH = {"Cache-Control": "no-store"}


def file_routes() -> list[Route]:
    """Give the routes."""
    return [
        Route("/files/{sha256}/clip", _guarded(send_clip)),
        Route("/files/{sha256}/annotated.mp4", _guarded(send_annotated)),
        Route("/files/{sha256}/frames.json", _guarded(send_frame_times)),
        Route("/files/{sha256}/stills/{name}", _guarded(send_still)),
        Route("/jobs/{job_id:int}", _guarded(send_standing)),
        Route("/sheets/team/{team_id:int}.csv", _guarded(send_team_csv)),
        Route("/sheets/team/{team_id:int}.pdf", _guarded(send_team_pdf)),
        Route("/sheets/athlete/{athlete_id:int}.pdf", _guarded(send_athlete_pdf)),
    ]


def _guarded(act: Callable[[Request], Response]) -> Any:
    """Answer alike for what is not there and what is not the viewer's."""

    async def answer(request: Request) -> Response:
        try:
            return await run_in_threadpool(act, request)
        except (NotYours, ValueError):
            return PlainTextResponse("There is nothing of yours here.", 404, headers=FRESH)

    return answer


def send_clip(request: Request) -> Response:
    """Send the clip as it was filmed."""
    path = services().files.find_clip(_content(request))
    return _file(path, SUFFIXES[path.suffix] if path else "")


def send_annotated(request: Request) -> Response:
    """Send the clip with what was seen drawn into it."""
    return _file(services().files.annotated(_content(request)), "video/mp4")


def send_still(request: Request) -> Response:
    """Send a picture."""
    files, sha256, name = services().files, _content(request), request.path_params["name"]
    if name not in files.list_stills(sha256):
        raise NotYours
    kind = "image/png" if name.endswith(".png") else "image/jpeg"
    return _file(files.stills(sha256) / name, kind)


def send_frame_times(request: Request) -> Response:
    """Send when the file shows each frame."""
    return JSONResponse(services().files.frame_times(_content(request)), headers=PRIVATE)


def send_standing(request: Request) -> Response:
    """Say how far a clip is."""
    job = job_for(_viewer(request), request.path_params["job_id"], services())
    said = {"status": job.status, "step": job.step, "part": job.part, "message": job.message}
    return JSONResponse(said, headers=FRESH)


def send_team_csv(request: Request) -> Response:
    """Send a team's numbers as a table."""
    from app.web.sheets import team_csv

    team_id = request.path_params["team_id"]
    check_team(_viewer(request), team_id)
    text = team_csv(services(), _viewer(request), team_id=team_id)
    return _download(text.encode(), "text/csv; charset=utf-8", f"team-{date.today()}.csv")


def send_team_pdf(request: Request) -> Response:
    """Send a team's sheet."""
    from app.web.sheets import team_pdf

    team_id = request.path_params["team_id"]
    check_team(_viewer(request), team_id)
    data = team_pdf(services(), _viewer(request), team_id=team_id)
    return _download(data, "application/pdf", f"team-{date.today()}.pdf")


def send_athlete_pdf(request: Request) -> Response:
    """Send one athlete's sheet."""
    from app.web.sheets import athlete_pdf

    athlete_id = request.path_params["athlete_id"]
    check_athlete(_viewer(request), athlete_id, services())
    data = athlete_pdf(services(), _viewer(request), athlete_id=athlete_id)
    return _download(data, "application/pdf", f"athlete-{date.today()}.pdf")


def _viewer(request: Request) -> Viewer:
    viewer: Viewer = request.state.viewer
    return viewer


def _content(request: Request) -> str:
    sha256: str = request.path_params["sha256"]
    check_content(_viewer(request), sha256, services())
    return sha256


def _file(path: Path | None, media_type: str) -> Response:
    if path is None or not path.is_file():
        raise NotYours
    return FileResponse(path, media_type=media_type, headers=PRIVATE)


def _download(data: bytes, media_type: str, name: str) -> Response:
    disposition = f'attachment; filename="{name}"'
    return Response(data, media_type=media_type, headers={**FRESH, "Content-Disposition":
                                                          disposition})  # fmt: skip
