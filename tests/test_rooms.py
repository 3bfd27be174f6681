"""The arrows between rooms: who may import whom, read from the sources."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("measure", "calibration", "app", "sample_clips")
MAY_IMPORT = {
    "calibration": {"calibration"},
    "measure": {"measure", "calibration"},
    "app": {"app", "measure", "calibration", "sample_clips"},
    "sample_clips": {"sample_clips"},
}
ONLY_IN = {
    "cv2": "measure/io",
    "av": "measure/io",
    "mediapipe": "measure/io",
    "ai_edge_litert": "measure/io",
    "sqlalchemy": "app/history",
    "alembic": "app/history",
    "dask": "app/jobs",
    "distributed": "app/jobs",
    "streamlit": "app/web",
}


def imported_names(source: str, *, package: str) -> Iterator[str]:
    """Give the full dotted name of everything that a module imports, wherever it does."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            parents = package.split(".")
            base = parents[: len(parents) - node.level + 1] if node.level else []
            yield ".".join([*base, *filter(None, [node.module])])
        elif isinstance(node, ast.Call):
            yield from _imported_by_call(node)


def _imported_by_call(node: ast.Call) -> Iterator[str]:
    called = ast.unparse(node.func)
    if called in {"__import__", "import_module", "importlib.import_module"} and node.args:
        name = node.args[0]
        yield name.value if isinstance(name, ast.Constant) else "<computed>"


def wrong_arrows(path: str, source: str) -> list[str]:
    """Give the imports of one module that its place doesn't allow."""
    room, *_ = path.split("/")
    package = ".".join(path.split("/")[:-1])
    wrong = []
    for name in imported_names(source, package=package):
        top = name.split(".")[0]
        if top in {*ROOMS, "tests"} and top not in MAY_IMPORT[room]:
            wrong.append(name)
        # Sample clips are drawn by a program of their own, which writes film.
        place = ONLY_IN.get(top)
        if place and room != "sample_clips" and not path.startswith(f"{place}/"):
            wrong.append(name)
        if top == "<computed>":
            wrong.append(name)
    return wrong


def module_paths() -> list[str]:
    return sorted(
        str(path.relative_to(ROOT)) for room in ROOMS for path in (ROOT / room).rglob("*.py")
    )


@pytest.mark.parametrize("path", module_paths())
def test_arrows_point_one_way(path: str) -> None:
    assert wrong_arrows(path, (ROOT / path).read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("path", "source", "wrong"),
    [
        ("measure/a.py", "import numpy, cv2", ["cv2"]),
        ("measure/io/a.py", "import cv2, av", []),
        ("measure/a.py", "from app.main import main", ["app.main"]),
        ("calibration/a.py", "def f():\n    from measure.types import Foot", ["measure.types"]),
        ("calibration/a.py", "from .values import Scale", []),
        ("calibration/deep/a.py", "from .. import values", []),
        ("app/main.py", "import sqlalchemy.orm", ["sqlalchemy.orm"]),
        ("app/history/store.py", "from sqlalchemy.orm import Session", []),
        ("app/a.py", "import importlib\nimportlib.import_module('cv2')", ["cv2"]),
        ("app/a.py", "__import__(name)", ["<computed>"]),
        ("measure/io/a.py", "from tests.reports import x", ["tests.reports"]),
    ],
)
def test_a_wrong_arrow_is_seen(path: str, source: str, wrong: list[str]) -> None:
    assert wrong_arrows(path, source) == wrong
