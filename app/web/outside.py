"""Sign-in through the team's own identity provider (OIDC), by Streamlit's support; off by default.

Streamlit's routes lead to the provider and back, and leave a signed cookie that says who came.
It is exchanged at once for a session of ours, so that signing out everywhere ends these too. A
person is known by the address that the provider has verified: it is their sign-in name here.
"""

from __future__ import annotations

import json
import os
import time
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from app.folders import data_folder
from app.web.services import services
from measure.errors import FlightmarkError

SETTING_VARIABLE = "FLIGHTMARK_SIGN_IN"
SETTING_FILE = "sign_in.toml"
NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
SHORTEST_SECRET = 32
WITH_PATH, BACK_PATH = "/enter/with", "/enter/back"
OPEN_PATHS = (WITH_PATH, BACK_PATH, "/auth/login", "/oauth2callback")
GUEST_COOKIES = ("_streamlit_user", "_streamlit_user_tokens")


class SettingFailed(FlightmarkError):
    """The setting of the identity provider can't be used."""


@dataclass(frozen=True)
class Provider:
    """The identity provider that a team has set."""

    path: Path
    """The setting, as Streamlit reads it too."""
    name: str
    """Shown on the button."""


def read_provider() -> Provider | None:
    """Give the provider that is set, None where none is.

    Raises
    ------
    SettingFailed
        There is a setting, and something of it is missing.
    """
    chosen = os.environ.get(SETTING_VARIABLE)
    path = Path(chosen) if chosen else data_folder() / SETTING_FILE
    if not chosen and not path.exists():
        return None
    try:
        auth: Mapping[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))["auth"]
    except (OSError, ValueError, KeyError) as error:
        raise SettingFailed(
            f"The sign-in setting {path} can't be read ({error}).",
            f"It has a part [auth] with {', '.join(NEEDED)}.",
        ) from error
    missing = [name for name in NEEDED if not auth.get(name)]
    if missing:
        raise SettingFailed(f"{path} says nothing about {', '.join(missing)}.", "Add it to [auth].")
    if len(str(auth["cookie_secret"])) < SHORTEST_SECRET:
        raise SettingFailed(
            f"The cookie_secret in {path} is too short.",
            f"Use {SHORTEST_SECRET} letters or more, made by chance.",
        )
    if not str(auth["redirect_uri"]).endswith("/oauth2callback"):
        raise SettingFailed(
            f"The redirect_uri in {path} leads nowhere.", "It ends with /oauth2callback."
        )
    _need_authlib()
    return Provider(path, str(auth.get("name", "your organisation")))


def _need_authlib() -> None:
    try:
        import authlib.integrations.starlette_client  # noqa: F401
    except ImportError as error:
        raise SettingFailed(
            f"Sign-in through a provider needs another package ({error}).",
            "Install flightmark[oidc].",
        ) from error


def outside_routes() -> list[Route]:
    """Give the routes on the way to the provider and back."""
    return [Route(WITH_PATH, go), Route(BACK_PATH, come_back)]


def is_coming_back(connection: HTTPConnection) -> bool:
    """Tell whether somebody comes from the provider and has no session yet."""
    return services().provider is not None and GUEST_COOKIES[0] in connection.cookies


async def go(_request: Request) -> Response:
    """Lead to the provider, as ``st.login`` does."""
    from streamlit.auth_util import encode_provider_token

    if services().provider is None:
        return RedirectResponse("/enter", 303)
    return RedirectResponse(f"/auth/login?provider={encode_provider_token('default')}", 303)


async def come_back(request: Request) -> Response:
    """Open a session for whom the provider vouches for."""
    from app.web.entrance import show_sign_in, signed_in

    guest = _read_guest(request) if services().provider is not None else {}
    token = None
    address = guest.get("email")
    is_good = guest.get("email_verified") is True and float(guest.get("exp", 0)) > time.time()
    if is_good and isinstance(address, str):
        people = services().desk.people
        token = await run_in_threadpool(people.sign_in_known, address, now=datetime.now(UTC))
    if token is not None:
        answer = signed_in(request, token)
    else:
        fault = "Nobody here signs in under that address. Ask your coach for a link, and choose "
        fault += "the address as your sign-in name."
        answer = show_sign_in(fault=fault, status=403)
    for name in [each for each in request.cookies if each.startswith(GUEST_COOKIES[0])]:
        answer.delete_cookie(name, httponly=True, samesite="lax")
    return answer


def _read_guest(request: Request) -> dict[str, Any]:
    """Give what the provider said, from the cookie that Streamlit signed."""
    from streamlit.auth_util import get_cookie_with_chunks
    from streamlit.web.server.server_util import get_cookie_secret
    from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value

    def read(name: str) -> bytes | None:
        return decode_signed_value(get_cookie_secret(), name, request.cookies.get(name, ""))

    said = get_cookie_with_chunks(read, GUEST_COOKIES[0])
    guest: dict[str, Any] = json.loads(said) if said else {}
    return guest
