"""The pages before the gate: sign in, the first coach, a one-time link. Plain HTML, no script."""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable, Mapping
from datetime import UTC, date, datetime
from html import escape
from urllib.parse import urlparse

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from app.accounts.people import CONSENT_WORDING, NewPerson
from app.accounts.secrets import SHORTEST_PASSWORD
from app.errors import HistoryFailed
from app.history.people import SIGN_IN_LASTS, InvitationRecord, TooManyTries
from app.web.look import ENTRANCE_STYLE, MARK
from app.web.services import COOKIE, services

Act = Callable[[Request], Awaitable[Response]]
LOOPBACK = ("127.0.0.1", "::1", "localhost", "testclient")


def entrance_routes() -> list[Route]:
    """Give the routes that need no session."""
    return [
        Route("/enter", _patient(enter), methods=["GET", "POST"]),
        Route("/leave", _patient(leave), methods=["POST"]),
        Route("/first", _patient(found), methods=["GET", "POST"]),
        Route("/join/{token}", _patient(join), methods=["GET", "POST"]),
        Route("/healthz", say_healthy),
    ]


def _patient(act: Act) -> Act:
    """Say so where the database is away."""

    async def answer(request: Request) -> Response:
        try:
            return await act(request)
        except HistoryFailed:
            text = "<p>The records can’t be reached for the moment. Try again in a minute.</p>"
            return _page("One moment", text, status=503)

    return answer


async def say_healthy(_request: Request) -> Response:
    """Say that the server is there."""
    return PlainTextResponse("ok")


async def enter(request: Request) -> Response:
    """Show the sign-in form, or sign in."""
    people = services().desk.people
    if not await run_in_threadpool(people.has_accounts):
        return RedirectResponse("/first", 303)
    if request.method == "GET":
        return show_sign_in()
    form = await _read_form(request)
    name = form.get("sign_in_name", "")
    try:
        token = await run_in_threadpool(
            people.sign_in, name, form.get("password", ""),
            address=_address(request), now=datetime.now(UTC),
        )  # fmt: skip
    except TooManyTries as error:
        return show_sign_in(name, fault=str(error), status=429)
    if token is None:
        fault = "That name and password do not go together."
        return show_sign_in(name, fault=fault, status=401)
    return signed_in(request, token)


async def leave(request: Request) -> Response:
    """End this browser's session, or all of the account's."""
    people = services().desk.people
    form = await _read_form(request)
    viewer = request.state.viewer
    if form.get("everywhere") and viewer is not None:
        await run_in_threadpool(people.sign_out_everywhere, viewer.account_id)
    elif token := request.cookies.get(COOKIE):
        await run_in_threadpool(people.sign_out, token)
    answer = RedirectResponse("/enter", 303)
    answer.delete_cookie(COOKIE, httponly=True, samesite="lax")
    return answer


async def found(request: Request) -> Response:
    """Make the first coach; only from this machine, and only once."""
    people = services().desk.people
    if await run_in_threadpool(people.has_accounts):
        return RedirectResponse("/enter", 303)
    if _address(request) not in LOOPBACK:
        text = "<p>The first coach is made on the machine that runs flightmark itself.</p>"
        return _page("Not yet open", text, status=403)
    if request.method == "GET":
        return _page("Welcome", _founding_form({}))
    form = await _read_form(request)
    try:
        token = await run_in_threadpool(
            people.found_team, _person(form), team=form.get("team", ""), now=datetime.now(UTC)
        )
    except (ValueError, HistoryFailed) as error:
        return _page("Welcome", _founding_form(form, fault=str(error)), status=422)
    return signed_in(request, token)


async def join(request: Request) -> Response:
    """Show what a one-time link opens, or use it up."""
    token, people, now = request.path_params["token"], services().desk.people, datetime.now(UTC)
    invitation = await run_in_threadpool(people.find_invitation, token, now=now)
    if invitation is None:
        text = "<p>This link is used up or too old. Ask your coach for a new one.</p>"
        return _page("Link closed", text, status=410)
    title = f"Join {invitation.team_name}"
    if request.method == "GET":
        return _page(title, _joining_form({}, invitation))
    form = await _read_form(request)
    try:
        cookie = await run_in_threadpool(people.join, token, _person(form), now=now)
    except (ValueError, HistoryFailed) as error:
        return _page(title, _joining_form(form, invitation, fault=str(error)), status=422)
    return signed_in(request, cookie)


async def _read_form(request: Request) -> dict[str, str]:
    form = await request.form(max_files=0, max_fields=20)
    return {key: value for key, value in form.items() if isinstance(value, str)}


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


def signed_in(request: Request, token: str) -> Response:
    """Give this browser its session and lead it home."""
    answer = RedirectResponse("/", 303)
    is_secure = request.url.scheme == "https" or (
        urlparse(request.headers.get("origin", "")).scheme == "https"
    )
    answer.set_cookie(
        COOKIE, token, max_age=int(SIGN_IN_LASTS.total_seconds()), httponly=True, samesite="lax",
        secure=is_secure, path="/",
    )  # fmt: skip
    return answer


def _person(form: Mapping[str, str]) -> NewPerson:
    height = form.get("stature_cm", "")
    stature_cm = _body(height, "height in centimetres", least=80, most=240)
    return NewPerson(
        name=form.get("name", ""),
        sign_in_name=form.get("sign_in_name", ""),
        password=_same(form.get("password", ""), form.get("again", "")),
        born_on=_date(form.get("born_on", "")),
        stature_m=None if stature_cm is None else stature_cm / 100,
        sex=form.get("sex") if form.get("sex") in ("female", "male") else None,
        mass_kg=_body(form.get("mass_kg", ""), "mass in kilograms", least=15, most=250),
        agrees=form.get("agrees") == "yes",
        guardian=form.get("guardian", ""),
    )


def _same(password: str, again: str) -> str:
    if password != again:
        raise ValueError("The two passwords differ; type them again.")
    return password


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise ValueError("That date of birth is no date.") from error


def _body(text: str, what: str, *, least: float, most: float) -> float | None:
    """Read something of the body; what is left empty is not said."""
    if not text.strip():
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise ValueError(f"The body {what} is a number from {least:g} to {most:g}.")
    return value


def _page(title: str, inside: str, *, status: int = 200) -> Response:
    return HTMLResponse(
        f'<!doctype html><html lang="en"><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{escape(title)} · flightmark</title><style>{ENTRANCE_STYLE}</style>"
        f'<main><div class="mark">{MARK}<span>flightmark</span></div>'
        f"<h1>{escape(title)}</h1>{inside}</main></html>",
        status,
        headers={
            "Cache-Control": "no-store",
            "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; "
            "img-src data:; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
        },
    )


def _fault(text: str) -> str:
    return f'<p class="fault" role="alert">{escape(text)}</p>' if text else ""


def _field(label: str, name: str, value: str = "", **more: str) -> str:
    extra = "".join(f' {key.replace("_", "-")}="{escape(said)}"' for key, said in more.items())
    return (
        f'<label for="{name}">{label}</label>'
        f'<input id="{name}" name="{name}" value="{escape(value)}"{extra}>'
    )


def _passwords() -> str:
    least = str(SHORTEST_PASSWORD)
    new = {"type": "password", "autocomplete": "new-password", "minlength": least}
    return _field(f"Password, {least} letters or more", "password", **new) + _field(
        "The same password again", "again", **new
    )


def show_sign_in(name: str = "", *, fault: str = "", status: int = 200) -> Response:
    """Show the sign-in form."""
    provider = services().provider
    with_provider = "" if provider is None else (
        f'<p><a class="way" href="/enter/with">Sign in with {escape(provider.name)}</a></p>'
    )
    return _page("Sign in", _sign_in_form(name, fault=fault) + with_provider, status=status)


def _sign_in_form(name: str = "", *, fault: str = "") -> str:
    return (
        f'{_fault(fault)}<form method="post" action="/enter">'
        + _field("Sign-in name", "sign_in_name", name, autocomplete="username", required="")
        + _field("Password", "password", type="password", autocomplete="current-password",
                 required="")
        + "<button>Sign in</button></form><p>No account? Your coach has a link for you.</p>"
    )  # fmt: skip


def _founding_form(form: Mapping[str, str], *, fault: str = "") -> str:
    return (
        f"<p>Nobody has an account here yet. Make yours, as the coach of this place.</p>"
        f'{_fault(fault)}<form method="post" action="/first">'
        + _field("Your name", "name", form.get("name", ""), required="", maxlength="100")
        + _field("Your team", "team", form.get("team", ""), required="", maxlength="100")
        + _field("Sign-in name", "sign_in_name", form.get("sign_in_name", ""), required="",
                 autocomplete="username")
        + _passwords() + "<button>Begin</button></form>"
    )  # fmt: skip


def _joining_form(form: Mapping[str, str], invitation: InvitationRecord, *, fault: str = "") -> str:
    name = form.get("name") or invitation.athlete_name or ""
    parts = [
        _fault(fault), '<form method="post">',
        _field("Your name", "name", name, required="", maxlength="100"),
        _field("Sign-in name", "sign_in_name", form.get("sign_in_name", ""), required="",
               autocomplete="username"),
        _passwords(),
    ]  # fmt: skip
    if invitation.role == "athlete":
        parts.append(_athlete_fields(form))
    return "".join([*parts, "<button>Join</button></form>"])


def _athlete_fields(form: Mapping[str, str]) -> str:
    choices = "".join(
        f'<option value="{value}"{" selected" if form.get("sex") == value else ""}>{said}</option>'
        for value, said in (("", "rather not say"), ("female", "female"), ("male", "male"))
    )
    ticked = " checked" if form.get("agrees") == "yes" else ""
    return (
        _field("Date of birth", "born_on", form.get("born_on", ""), type="date", required="")
        + _field("Body height without shoes, cm", "stature_cm", form.get("stature_cm", ""),
                 inputmode="decimal")
        + _field("Body mass, kg, for the force of a sprint; may be left out", "mass_kg",
                 form.get("mass_kg", ""), inputmode="decimal")
        + '<label for="sex">Sex, for the table of body segments</label>'
        + f'<select id="sex" name="sex">{choices}</select>'
        + f'<fieldset><legend>Agreement</legend><p>{escape(CONSENT_WORDING)}</p>'
        + f'<label class="tick"><input type="checkbox" name="agrees" value="yes"{ticked}> '
        + "I agree</label>"
        + _field("Under 18: name of the parent or guardian who agrees too", "guardian",
                 form.get("guardian", ""), maxlength="100")
        + "</fieldset>"
    )  # fmt: skip
