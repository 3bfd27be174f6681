"""Sign-in through an identity provider: a small one of our own, on this machine."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import secrets
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode, urlparse

import httpx
import pytest
from joserfc import jwt
from joserfc.jwk import RSAKey

from app.web.outside import SettingFailed, read_provider
from app.web.services import COOKIE, Services
from tests.app.web.conftest import Team

SECRET = "made by chance, and long enough for it"


class Idp(ThreadingHTTPServer):
    """Vouches for whoever ``guest`` says."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Answers)
        self.base = f"http://127.0.0.1:{self.server_port}"
        self.key = RSAKey.generate_key(2048, parameters={"kid": "one"})
        self.guest: dict[str, Any] = {}
        self.asked: dict[str, str] = {}


class _Answers(BaseHTTPRequestHandler):
    server: Idp

    def log_message(self, *_words: Any) -> None:
        pass

    def do_GET(self) -> None:
        at, base = urlparse(self.path), self.server.base
        if at.path == "/authorize":
            self.server.asked = {key: values[0] for key, values in parse_qs(at.query).items()}
            back = urlencode({"code": "once", "state": self.server.asked["state"]})
            self.send_response(302)
            self.send_header("Location", f"{self.server.asked['redirect_uri']}?{back}")
            self.end_headers()
        elif at.path == "/keys":
            self._say({"keys": [self.server.key.as_dict(private=False)]})
        else:
            self._say({
                "issuer": base, "authorization_endpoint": f"{base}/authorize",
                "token_endpoint": f"{base}/token", "jwks_uri": f"{base}/keys",
                "id_token_signing_alg_values_supported": ["RS256"],
                "code_challenge_methods_supported": ["S256"],
            })  # fmt: skip

    def do_POST(self) -> None:
        said = parse_qs(self.rfile.read(int(self.headers["Content-Length"])).decode())
        proof = hashlib.sha256(said["code_verifier"][0].encode()).digest()
        challenge = base64.urlsafe_b64encode(proof).rstrip(b"=").decode()
        assert challenge == self.server.asked["code_challenge"]
        now = int(time.time())
        claims = {
            "iss": self.server.base, "aud": "pages", "sub": "7", "iat": now, "exp": now + 300,
            "nonce": self.server.asked["nonce"], **self.server.guest,
        }  # fmt: skip
        token = jwt.encode({"alg": "RS256", "kid": "one"}, claims, self.server.key)
        self._say({"access_token": "a", "token_type": "Bearer", "id_token": token})

    def _say(self, answer: dict[str, Any]) -> None:
        body = json.dumps(answer).encode()
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


@pytest.fixture
def idp() -> Iterator[Idp]:
    server = Idp()
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture
def base(idp: Idp, at: Services, ours: Team, data_folder: Path) -> Iterator[str]:
    """A server of its own, set to trust the provider; Ada and Bo have accounts."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    base = f"http://127.0.0.1:{port}"
    write_setting(data_folder / "sign_in.toml", base, idp.base)
    call = (
        "import uvicorn; from app.web.asgi import make_app; uvicorn.run("
        f"make_app(measures=False), port={port}, lifespan='on', log_level='warning')"
    )
    server = subprocess.Popen([sys.executable, "-c", call], env=dict(os.environ))
    for _ in range(300):
        try:
            httpx.get(f"{base}/healthz", timeout=2)
            break
        except httpx.HTTPError:
            assert server.poll() is None
            time.sleep(0.2)
    yield base
    server.terminate()
    server.wait(20)


def write_setting(path: Path, base: str, idp: str, **changes: str) -> None:
    facts = {
        "redirect_uri": f"{base}/oauth2callback", "cookie_secret": SECRET, "client_id": "pages",
        "client_secret": secrets.token_hex(8), "name": "the club",
        "server_metadata_url": f"{idp}/.well-known/openid-configuration", **changes,
    }  # fmt: skip
    lines = [f"{name} = {json.dumps(value)}" for name, value in facts.items()]
    path.write_text("[auth]\n" + "\n".join(lines), encoding="utf-8")


def visit(base: str) -> httpx.Client:
    return httpx.Client(base_url=base, follow_redirects=True, headers={"accept": "text/html"})


def test_who_is_vouched_for_comes_in_and_nobody_else(
    base: str, idp: Idp, at: Services, ours: Team
) -> None:
    with visit(base) as guest:
        assert "Sign in with the club" in guest.get("/enter").text
        idp.guest = {"email": "ADA", "email_verified": True}
        assert guest.get("/enter/with").url.path == "/"
        assert [name for name in guest.cookies if name.startswith("_streamlit_user")] == []
        viewer = at.desk.people.find_viewer(guest.cookies[COOKIE])
        assert viewer is not None
        assert viewer.name == "Ada"
        assert guest.get("/sheets/team/1.csv").status_code == 200
        at.desk.people.sign_out_everywhere(viewer.account_id)  # ends these sessions too
        assert guest.get("/sheets/team/1.csv").url.path == "/enter"
    for said in ({"email": "ada", "email_verified": False}, {"email": "ada"},
                 {"email": "eve", "email_verified": True}, {}):  # fmt: skip
        idp.guest = said
        with visit(base) as guest:
            answer = guest.get("/enter/with")
            assert (answer.status_code, COOKIE in guest.cookies) == (403, False)
            assert "Ask your coach" in answer.text
    with visit(base) as guest:  # a cookie that somebody wrote for themselves
        guest.cookies.set("_streamlit_user", json.dumps({"email": "ada", "email_verified": True}))
        guest.get("/")
        assert COOKIE not in guest.cookies


def test_it_is_off_unless_set_and_says_what_is_missing(data_folder: Path) -> None:
    assert read_provider() is None
    data_folder.mkdir(exist_ok=True)
    path = data_folder / "sign_in.toml"
    for changes, fault in (
        ({"client_id": ""}, "client_id"), ({"cookie_secret": "short"}, "too short"),
        ({"redirect_uri": "http://here/"}, "/oauth2callback"),
    ):  # fmt: skip
        write_setting(path, "http://here", "http://there", **changes)
        with pytest.raises(SettingFailed, match=fault):
            read_provider()
    path.write_text("nothing")
    with pytest.raises(SettingFailed, match="can't be read"):
        read_provider()


def test_without_a_provider_its_paths_lead_to_the_form(client: Any, ours: Team) -> None:
    client.cookies.clear()
    assert client.get("/enter/with").headers["location"] == "/enter"
    assert client.get("/enter/back").status_code == 403
    assert "Sign in with" not in client.get("/enter").text
