"""Find the pose model inside the installed mediapipe wheel and cut away what nobody needs.

The landmark network also paints a silhouette; leaving that head out saves a third of its time.
The cut file is made once and kept in the user's cache folder under the hash of what it was cut
from. Nothing is downloaded, and mediapipe itself is not imported (that takes most of a second).
"""

from __future__ import annotations

import functools
import hashlib
import importlib.util
import os
import tempfile
from pathlib import Path
from typing import Any

from measure.errors import FlightmarkError

__all__ = [
    "cut_silhouette_head", "detector_file", "landmark_file", "landmark_sha256",
    "load_cut_landmark_model",
]  # fmt: skip

_CUT_VERSION = 1
_SILHOUETTE_SIDE_PX = 256


class PoseModelMissingError(FlightmarkError):
    """The installed mediapipe wheel does not hold the files that the pose back end runs."""


def detector_file() -> Path:
    """Path of the bundled network that finds people."""
    return _bundled("modules/pose_detection/pose_detection.tflite")


def landmark_file() -> Path:
    """Path of the bundled network that reads a person's points."""
    return _bundled("modules/pose_landmark/pose_landmark_full.tflite")


def landmark_sha256() -> str:
    """Hash of the bundled landmark network, by which a report names it."""
    return _file_sha256(landmark_file())


@functools.cache
def _file_sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def load_cut_landmark_model(*, cache_folder: Path | None = None) -> tuple[bytes, str]:
    """Landmark network without its silhouette head, and the hash of the file it was cut from.

    Where the cache folder cannot be written the model is cut anew each time: slower, same result.
    """
    source_sha256 = landmark_sha256()
    cached = (cache_folder or _cache_folder()) / f"pose_{_CUT_VERSION}_{source_sha256}.tflite"
    kept = _read_kept(cached)
    if kept is not None:
        return kept, source_sha256
    cut = cut_silhouette_head(landmark_file().read_bytes())
    _keep(cached, cut)
    return cut, source_sha256


def cut_silhouette_head(model: bytes) -> bytes:
    """Remove the output that paints a silhouette, and every step that only feeds it."""
    import flatbuffers
    from ai_edge_litert import schema_py_generated as schema

    tree = schema.ModelT.InitFromObj(schema.Model.GetRootAs(model, 0))
    graph = tree.subgraphs[0]
    graph.outputs = [int(o) for o in graph.outputs if not _is_silhouette(graph.tensors[int(o)])]
    graph.operators = _feeding(graph.operators, graph.outputs)
    tree.signatureDefs = None
    builder = flatbuffers.Builder(len(model) + 1024)
    builder.Finish(tree.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def _is_silhouette(tensor: Any) -> bool:
    shape = list(tensor.shape)
    return len(shape) == 4 and shape[1] == _SILHOUETTE_SIDE_PX and shape[3] == 1


def _feeding(operators: list[Any], outputs: list[int]) -> list[Any]:
    """Keep the steps on the way to the outputs, in their order."""
    needed, kept = set(outputs), []
    for operator in reversed(operators):
        if needed.intersection(int(o) for o in operator.outputs):
            needed.update(int(i) for i in operator.inputs if i >= 0)
            kept.append(operator)
    return kept[::-1]


def _bundled(inside: str) -> Path:
    spec = importlib.util.find_spec("mediapipe")
    folders = spec.submodule_search_locations if spec is not None else None
    path = Path(folders[0]) / inside if folders else None
    if path is None or not path.is_file():
        raise PoseModelMissingError(
            f"The pose model {Path(inside).name} is not in the installed mediapipe package.",
            "Install the version of mediapipe that flightmark pins.",
        )
    return path


def _cache_folder() -> Path:
    import platformdirs

    return Path(platformdirs.user_cache_dir("flightmark", appauthor=False))


def _read_kept(path: Path) -> bytes | None:
    """Content of a cached file, None where it is absent or not what was written.

    The first 32 bytes are the SHA-256 of the rest, so a damaged file is made anew.
    """
    try:
        content = path.read_bytes()
    except OSError:
        return None
    digest, model = content[:32], content[32:]
    return model if hashlib.sha256(model).digest() == digest else None


def _keep(path: Path, model: bytes) -> None:
    """Write beside the target and rename, so that no reader ever sees half a file."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, temporary = tempfile.mkstemp(dir=path.parent, suffix=".part")
    except OSError:
        return
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(hashlib.sha256(model).digest() + model)
        os.replace(temporary, path)
    except OSError:
        Path(temporary).unlink(missing_ok=True)
