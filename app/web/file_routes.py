"""Clips, pictures and printouts: each only to those who may see it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from app.accounts.people import Viewer
from app.clip_files import media_type
from app.store import KeptFile
from app.web.rights import NotYours, check_athlete, check_content, check_team, job_for
from app.web.services import services

PRIVATE = {"Cache-Control": "private, max-age=600"}
FRESH = {"Cache-Control": "no-store"}
ONE_RANGE = re.compile(r"bytes=(\d*)-(\d*)")


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
    clip = services().files.find_clip(_content(request))
    return send_kept(request, clip, "" if clip is None else media_type(clip))


def send_annotated(request: Request) -> Response:
    """Send the clip with what was seen drawn into it."""
    return send_kept(request, services().files.find_annotated(_content(request)), "video/mp4")


def send_still(request: Request) -> Response:
    """Send a picture."""
    files, sha256, name = services().files, _content(request), request.path_params["name"]
    kind = "image/png" if name.endswith(".png") else "image/jpeg"
    return send_kept(request, files.find_still(sha256, name), kind)


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


def send_kept(request: Request, kept: KeptFile | None, kind: str) -> Response:
    """Send a file of the store, or the part of it that a film player asks for."""
    if kept is None:
        raise NotYours
    if kept.local_path is not None:
        return FileResponse(kept.local_path, media_type=kind, headers=PRIVATE)
    size = kept.size_bytes
    headers = {**PRIVATE, "Accept-Ranges": "bytes"}
    asked = ONE_RANGE.fullmatch(request.headers.get("range", ""))
    if asked is None:
        headers["Content-Length"] = str(size)
        return StreamingResponse(kept.pieces(0, size), headers=headers, media_type=kind)
    first, last = asked.groups()
    start = int(first) if first else max(size - int(last or 0), 0)
    end = min(int(last) + 1, size) if first and last else size
    if start >= end:
        return Response(status_code=416, headers={"Content-Range": f"bytes */{size}"})
    headers |= {"Content-Range": f"bytes {start}-{end - 1}/{size}",
                "Content-Length": str(end - start)}  # fmt: skip
    return StreamingResponse(kept.pieces(start, end), 206, headers=headers, media_type=kind)


def _download(data: bytes, media_type: str, name: str) -> Response:
    disposition = f'attachment; filename="{name}"'
    return Response(data, media_type=media_type, headers={**FRESH, "Content-Disposition":
                                                          disposition})  # fmt: skip
