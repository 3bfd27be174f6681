"""Clips from a phone, in slices: a broken connection goes on where it stopped.

``POST /uploads`` begins one, ``HEAD`` says how much has come, ``PATCH`` brings the next slice.
A slice goes to the disk as it comes; memory stays flat whatever the clip's size.
"""

from __future__ import annotations

import asyncio
import json
import re
import secrets
import shutil
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from app.accounts.people import Viewer
from app.clip_files import SUFFIXES
from app.errors import HistoryFailed, StoreFailed
from app.exercises import EXERCISE_NAMES
from app.history.clip_jobs import Upload
from app.web.services import Services, services
from measure.types import FEET, Foot

LARGEST_CLIP_BYTES = 2 << 30
LARGEST_SLICE_BYTES = 16 << 20
KEPT_FREE_BYTES = 200 << 20
ABANDONED_AFTER_S = 3 * 24 * 3600.0
UPLOAD_NAME = re.compile(r"[0-9a-f]{32}")
FULL_DISK = "There is no room on this machine. Nothing is lost; try again when there is."

_busy: dict[str, asyncio.Lock] = {}


class Refusal(Exception):
    """An answer that ends a request."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.answer = PlainTextResponse(text, status, headers={"Cache-Control": "no-store"})


@dataclass(frozen=True)
class Promise:
    """What the sender says a clip will be."""

    account_id: int
    athlete_id: int
    file_name: str
    suffix: str
    size_bytes: int
    exercise: str | None
    place_id: int | None
    start_foot: Foot | None = None


def upload_routes() -> list[Route]:
    """Give the routes."""
    return [
        Route("/uploads", begin, methods=["POST"]),
        Route("/uploads/{name}", go_on, methods=["HEAD", "PATCH"]),
    ]


async def begin(request: Request) -> Response:
    """Begin an upload."""
    at = services()
    try:
        promise = _promise(await _json(request), request.state.viewer, at)
        name = await run_in_threadpool(_open, at.uploads_folder, promise)
    except Refusal as refusal:
        return refusal.answer
    except HistoryFailed as error:
        return PlainTextResponse(str(error), 503)
    return JSONResponse({"name": name}, 201)


async def go_on(request: Request) -> Response:
    """Say how much has come, or take the next slice; the last one hands the clip over."""
    at, name = services(), request.path_params["name"]
    try:
        promise = _find(at.uploads_folder, name, request.state.viewer)
        if request.method == "HEAD":
            return _standing(at.uploads_folder / f"{name}.part", promise)
        async with _busy.setdefault(name, asyncio.Lock()):
            return await _take_slice(request, name, promise, at)
    except Refusal as refusal:
        return refusal.answer
    except ClientDisconnect:
        return PlainTextResponse("The connection broke; go on where it stopped.", 400)
    except HistoryFailed as error:
        return PlainTextResponse(str(error), 503)


async def _take_slice(request: Request, name: str, promise: Promise, at: Services) -> Response:
    part = at.uploads_folder / f"{name}.part"
    if not part.exists():
        raise Refusal(404, "This upload is not known here any more; begin again.")
    have = part.stat().st_size
    if request.headers.get("upload-offset") != str(have):
        return _standing(part, promise, status=409)
    with open(part, "ab", buffering=0) as file:
        async for chunk in request.stream():
            have += len(chunk)
            if have > promise.size_bytes:
                raise Refusal(413, "More came than was said.")
            try:
                await run_in_threadpool(file.write, chunk)
            except OSError as error:
                raise Refusal(507, FULL_DISK) from error
    if have < promise.size_bytes:
        return _standing(part, promise)
    job_id = await run_in_threadpool(_hand_over, name, promise, at)
    _busy.pop(name, None)
    return JSONResponse({"job": job_id}, headers={"Upload-Offset": str(have)})


def _standing(part: Path, promise: Promise, *, status: int = 204) -> Response:
    have = part.stat().st_size if part.exists() else 0
    headers = {
        "Upload-Offset": str(have), "Upload-Length": str(promise.size_bytes),
        "Cache-Control": "no-store",
    }  # fmt: skip
    return Response(status_code=status, headers=headers)


async def _json(request: Request) -> Mapping[str, Any]:
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > 4096:
            raise Refusal(413, "Too much was said about the clip.")
    try:
        said = json.loads(body)
    except ValueError as error:
        raise Refusal(400, "Nothing was said about the clip.") from error
    if not isinstance(said, dict):
        raise Refusal(400, "Nothing was said about the clip.")
    return said


def _promise(said: Mapping[str, Any], viewer: Viewer, at: Services) -> Promise:
    athlete_id = said.get("athlete", viewer.athlete_id)
    if not isinstance(athlete_id, int) or not at.desk.people.may_see(viewer, athlete_id):
        raise Refusal(404, "There is no such athlete.")
    size_bytes, file_name = said.get("size"), Path(str(said.get("file_name", ""))).name
    suffix = Path(file_name).suffix.lower()
    if suffix not in SUFFIXES:
        raise Refusal(415, f"“{file_name}” is no video file that is known here; send MP4 or MOV.")
    if not isinstance(size_bytes, int) or size_bytes < 1:
        raise Refusal(400, f"“{file_name}” is empty.")
    if size_bytes > LARGEST_CLIP_BYTES:
        largest = LARGEST_CLIP_BYTES >> 30
        raise Refusal(413, f"“{file_name}” is larger than {largest} GB; cut it to the set itself.")
    exercise, place_id = said.get("exercise"), said.get("place")
    if exercise is not None and exercise not in EXERCISE_NAMES:
        raise Refusal(400, "There is no such exercise.")
    known = {place.place_id for place in at.desk.reviews.list_places(viewer.team_ids)}
    return Promise(
        viewer.account_id, athlete_id, file_name, suffix, size_bytes, exercise,
        place_id if place_id in known else None, _start_foot(said),
    )  # fmt: skip


def _start_foot(said: Mapping[str, Any]) -> Foot | None:
    foot: Foot | None = said.get("start_foot")
    if foot not in (None, *FEET):
        raise Refusal(400, "The foot in front is left or right.")
    return foot


def _open(folder: Path, promise: Promise) -> str:
    _forget_abandoned(folder)
    if shutil.disk_usage(folder).free < 2 * promise.size_bytes + KEPT_FREE_BYTES:
        raise Refusal(507, FULL_DISK)
    name = secrets.token_hex(16)
    try:
        (folder / f"{name}.part").touch()
        (folder / f"{name}.json").write_text(json.dumps(asdict(promise)), encoding="utf-8")
    except OSError as error:
        raise Refusal(507, FULL_DISK) from error
    return name


def _forget_abandoned(folder: Path) -> None:
    for path in folder.glob("*.part"):
        if time.time() - path.stat().st_mtime > ABANDONED_AFTER_S:
            path.unlink(missing_ok=True)
            path.with_suffix(".json").unlink(missing_ok=True)


def _find(folder: Path, name: str, viewer: Viewer) -> Promise:
    told = folder / f"{name}.json"
    if not UPLOAD_NAME.fullmatch(name) or not told.exists():
        raise Refusal(404, "This upload is not known here any more; begin again.")
    promise = Promise(**json.loads(told.read_text(encoding="utf-8")))
    if promise.account_id != viewer.account_id:
        raise Refusal(404, "This upload is not known here any more; begin again.")
    return promise


def _hand_over(name: str, promise: Promise, at: Services) -> int:
    """Name the clip by its content and queue it."""
    part = at.uploads_folder / f"{name}.part"
    try:
        sha256 = at.files.keep_clip(part)
    except StoreFailed as error:
        raise Refusal(507, FULL_DISK) from error
    upload = Upload(
        promise.athlete_id, sha256, promise.file_name, promise.suffix, promise.exercise,
        promise.place_id, promise.start_foot,
    )  # fmt: skip
    job_id = at.desk.jobs.submit(upload, now=datetime.now(UTC))
    # Only now: where the database was away, the sender's next try hands the clip over.
    part.unlink(missing_ok=True)
    (at.uploads_folder / f"{name}.json").unlink(missing_ok=True)
    at.wake_runner()
    return job_id
