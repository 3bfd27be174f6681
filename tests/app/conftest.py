"""A stand-in for the measuring room, and the command line run over it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from app.main import main
from app.measuring import Measuring
from measure.errors import OutputFailed, UnreadableClip
from measure.report import Report
from tests.app.postgres import PostgresServer


@dataclass
class StandIn:
    """Answers by the clip's name: a report, or an error to raise."""

    answers: dict[str, Report | BaseException]
    requests: list[Any] = field(default_factory=list)

    def analyse(self, request: Any, *, progress: Callable[[str, float], None]) -> Any:
        self.requests.append(request)
        progress("poses", 0.5)
        if request.path.name not in self.answers:
            raise UnreadableClip(f"There is no file {request.path}.", "Give the clip's path.")
        answer = self.answers[request.path.name]
        if isinstance(answer, BaseException):
            raise answer
        return SimpleNamespace(report=answer)

    def annotate(self, _analysis: Any, out_path: Path, *, progress: Any = None) -> None:
        if "full" in out_path.name:
            raise OutputFailed(f"{out_path} could not be written.", "Free some space.")
        out_path.write_bytes(b"film")

    def write_stills(self, _analysis: Any, folder: Path) -> list[Path]:
        (folder / "take-off.jpg").write_bytes(b"picture")
        return [folder / "take-off.jpg"]

    @property
    def measuring(self) -> Measuring:
        return Measuring(self.analyse, self.annotate, self.write_stills)


@dataclass
class Outcome:
    """What one call of the command line gave."""

    code: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture
def run(
    data_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Run:  # fmt: skip
    """Run the command line in an empty folder, over answers by clip name."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)

    def call(*argv: str, stand_in: StandIn | None = None) -> Outcome:
        code = main(argv, measuring=(stand_in or StandIn({})).measuring)
        return Outcome(code, *capsys.readouterr())

    return call


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    """A real PostgreSQL server, started for these tests."""
    server = PostgresServer()
    yield server
    server.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of an empty database, of each kind in turn."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'deep' / 'history.sqlite'}"
    server: PostgresServer = request.getfixturevalue("postgres")
    return server.new_database()
