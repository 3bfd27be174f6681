"""What was asked of a clip, as plain values: kept with its result, sent to workers, asked again."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from pathlib import Path
from typing import Any

from measure.errors import UnreadableClip
from measure.request import ClipRequest, Reference

LANE_FILE = "lane.json"


def request_as_json(request: ClipRequest) -> dict[str, Any]:
    """Give a request without its path; what was not said is absent.

    Raises
    ------
    UnreadableClip
        The lane file can't be read.
    """
    plain = {
        field.name: getattr(request, field.name)
        for field in dataclasses.fields(request)
        if field.name != "path" and getattr(request, field.name) is not None
    }
    if request.reference is not None:
        plain["reference"] = json.loads(json.dumps(dataclasses.asdict(request.reference)))
    if request.lane is not None:
        plain["lane"] = _read_lane(request.lane)
    return plain


def request_from_json(plain: dict[str, Any], *, path: Path, folder: Path) -> ClipRequest:
    """Give the request that some values describe.

    Parameters
    ----------
    plain : dict
        As ``request_as_json`` gives it.
    path : Path
        The clip.
    folder : Path
        Where a lane file may be written.
    """
    values = dict(plain)
    if "reference" in values:
        told = values["reference"]
        values["reference"] = Reference(
            tuple(told["first_px"]), tuple(told["second_px"]), told["length_m"]
        )
    if "lane" in values:
        lane = folder / LANE_FILE
        lane.write_text(json.dumps(values["lane"]), encoding="utf-8")
        values["lane"] = lane
    return ClipRequest(path=path, **values)


def hash_request(plain: dict[str, Any]) -> str:
    """Give what two equal requests have in common."""
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _read_lane(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise UnreadableClip(
            f"The lane file {path} can't be read ({error}).", "Give a lane file in JSON."
        ) from error
