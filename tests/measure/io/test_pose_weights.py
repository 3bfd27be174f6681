"""The bundled pose model is found, cut and kept."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest

from measure.io import pose_weights


def _run(model: bytes, image: np.ndarray) -> dict[tuple[int, ...], np.ndarray]:
    from ai_edge_litert.interpreter import Interpreter

    interpreter = Interpreter(model_content=model)
    interpreter.allocate_tensors()
    interpreter.set_tensor(interpreter.get_input_details()[0]["index"], image)
    interpreter.invoke()
    return {
        tuple(detail["shape"]): interpreter.get_tensor(detail["index"])
        for detail in interpreter.get_output_details()
    }


def test_cut_model_is_smaller_and_says_the_same():
    whole = pose_weights.landmark_file().read_bytes()
    cut = pose_weights.cut_silhouette_head(whole)
    assert len(cut) < len(whole)
    image = np.random.default_rng(1).random((1, 256, 256, 3), dtype=np.float32)
    before, after = _run(whole, image), _run(cut, image)
    assert set(before) - set(after) == {(1, 256, 256, 1)}
    for shape, value in after.items():
        np.testing.assert_allclose(value, before[shape], rtol=1e-4, atol=1e-3)


def test_model_is_kept_and_read_again(tmp_path, monkeypatch):
    first, _ = pose_weights.load_cut_landmark_model(cache_folder=tmp_path / "new")
    monkeypatch.setattr(pose_weights, "cut_silhouette_head", lambda _: pytest.fail("cut again"))
    second, _ = pose_weights.load_cut_landmark_model(cache_folder=tmp_path / "new")
    assert first == second
    assert [path.suffix for path in (tmp_path / "new").iterdir()] == [".tflite"]


def test_a_kept_model_is_read_without_its_source(tmp_path, monkeypatch):
    first = pose_weights.load_cut_landmark_model(cache_folder=tmp_path)
    monkeypatch.setattr(pose_weights, "landmark_file", lambda: pytest.fail("read once more"))
    monkeypatch.setattr(pose_weights, "landmark_sha256", lambda: first[1])
    assert pose_weights.load_cut_landmark_model(cache_folder=tmp_path) == first


def test_damaged_file_is_made_anew(tmp_path):
    good, _ = pose_weights.load_cut_landmark_model(cache_folder=tmp_path)
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(kept.read_bytes()[:-7])
    again, _ = pose_weights.load_cut_landmark_model(cache_folder=tmp_path)
    assert again == good


def test_folder_that_cannot_be_written_does_no_harm(tmp_path):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    model, _ = pose_weights.load_cut_landmark_model(cache_folder=in_the_way)
    assert model[4:8] == b"TFL3"


def test_missing_package_is_said(monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(pose_weights.PoseModelMissingError, match="pose_detection"):
        pose_weights.detector_file()
