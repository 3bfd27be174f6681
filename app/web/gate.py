"""Nothing behind it is reached without a session: pages, files, websocket.

Written on the bare protocol, so that the websocket is covered too.
"""

from __future__ import annotations

from urllib.parse import urlparse

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.errors import HistoryFailed
from app.web import outside
from app.web.services import COOKIE, services

OPEN_PATHS = (*outside.OPEN_PATHS, "/enter", "/first", "/healthz")
OPEN_FOLDERS = ("/join/", "/static/", "/look/")
READING = ("GET", "HEAD", "OPTIONS")
CLOSED_UNSIGNED = 4401
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"SAMEORIGIN"),
    (b"referrer-policy", b"same-origin"),
)


class Gate:
    """Lets through who is signed in, and what everybody may see.

    Parameters
    ----------
    app : ASGI application
        What lies behind it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through or turn it back."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        connection = HTTPConnection(scope)
        refusal = await self._refusal(connection, scope)
        if refusal is None:
            await self._app(scope, receive, _with_headers(send))
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": CLOSED_UNSIGNED})
        else:
            await refusal(scope, receive, send)

    async def _refusal(self, connection: HTTPConnection, scope: Scope) -> Response | None:
        is_reading = scope["type"] == "http" and scope["method"] in READING
        if not is_reading and not is_own_origin(connection):
            return PlainTextResponse("This was asked from another site.", 403)
        path = scope["path"]
        if path in OPEN_PATHS or path.startswith(OPEN_FOLDERS):
            return None
        try:
            token = connection.cookies.get(COOKIE)
            viewer = await run_in_threadpool(services().desk.people.find_viewer, token)
        except HistoryFailed as error:
            return PlainTextResponse(str(error), 503)
        scope.setdefault("state", {})["viewer"] = viewer
        if viewer is not None:
            return None
        wants_page = "text/html" in connection.headers.get("accept", "")
        if wants_page and scope["type"] == "http":
            is_back = outside.is_coming_back(connection)
            return RedirectResponse(outside.BACK_PATH if is_back else "/enter", 303)
        return PlainTextResponse("Sign in first.", 401)


def is_own_origin(connection: HTTPConnection) -> bool:
    """Tell whether a request that changes something was made by our own pages."""
    origin = connection.headers.get("origin")
    return origin is not None and urlparse(origin).netloc == connection.headers.get("host")


def _with_headers(send: Send) -> Send:
    async def send_with(message: Message) -> None:
        if message["type"] == "http.response.start":
            present = {name.lower() for name, _ in message.get("headers", [])}
            extra = [pair for pair in HEADERS if pair[0] not in present]
            message = {**message, "headers": [*message.get("headers", []), *extra]}
        await send(message)

    return send_with
