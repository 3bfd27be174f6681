"""The report as JSON: the names of the schema, and what was not measured left out."""

from __future__ import annotations

import json

from calibration.values import Refused, Scale, TimeBase
from measure.report import (
    SCHEMA,
    ClipFacts,
    JumpReport,
    LandingReport,
    Report,
    Versions,
    as_json,
)
from measure.types import Contact, Instant

JUMP = JumpReport(
    take_off_s=1.0, take_off_sigma_s=0.003, landing_s=1.5, landing_sigma_s=0.001,
    flight_time_s=0.5, flight_time_sigma_s=0.0032, height_m=0.3065, height_sigma_m=0.004,
    landing=LandingReport(knee_flexion_peak_deg={"left": 70.0}, extra_step=False),
)  # fmt: skip


def _report(**more: object) -> Report:
    return Report(
        clip=ClipFacts("ab" * 32, 1280, 720, 190, 3.15, 0),
        time_base=TimeBase("as_filed", 60.0, 1.0, ("Even stamps.",)),
        versions=Versions("0.1.0", "bundled", "cd" * 32), **more,  # type: ignore[arg-type]
    )


def test_the_names_are_those_of_the_schema() -> None:
    plain = as_json(_report(
        jumps=(JUMP,), exercise="vertical", view="side",
        scale=Scale(0.004, 0.0001, "stature"),
        refusals=(Refused("height_com_m", "The hips are hidden.", "Film from the side."),),
    ))  # fmt: skip
    assert (plain["schema"], SCHEMA) == ("flightmark.report/1", "flightmark.report/1")
    assert plain["time_base"] == {
        "status": "as_filed", "capture_rate_hz": 60.0, "file_s_per_s": 1.0,
        "evidence": ["Even stamps."], "checked_by_gravity": False,
    }  # fmt: skip
    assert plain["scale"] == {"m_per_px": 0.004, "m_per_px_sigma": 0.0001, "source": "stature"}
    assert plain["refusals"] == [
        {"what": "height_com_m", "reason": "The hips are hidden.", "hint": "Film from the side."}
    ]
    (jump,) = plain["jumps"]
    assert jump["flight_time_sigma_s"] == 0.0032
    assert jump["landing"] == {"knee_flexion_peak_deg": {"left": 70.0}, "extra_step": False}


def test_what_was_not_measured_is_absent_and_never_null() -> None:
    plain = as_json(_report(jumps=(JUMP,)))
    for name in ("height_com_m", "contact_time_s", "turn_deg"):
        assert name not in plain["jumps"][0]
    assert {"scale", "view", "exercise", "sprint"}.isdisjoint(plain)
    assert (plain["contacts"], plain["refusals"], plain["cautions"]) == ([], [], [])
    assert "null" not in json.dumps(plain)


def test_contacts_are_flat_and_open_ends_absent() -> None:
    plain = as_json(_report(contacts=(
        Contact("left", None, Instant(1.0, 0.003)),
        Contact("right", Instant(1.5, 0.001), Instant(1.7, 0.002)),
        Contact("left", None, None),
    )))  # fmt: skip
    assert plain["contacts"] == [
        {"foot": "left", "end_s": 1.0, "end_sigma_s": 0.003},
        {"foot": "right", "start_s": 1.5, "start_sigma_s": 0.001, "end_s": 1.7,
         "end_sigma_s": 0.002},
        {"foot": "left"},
    ]  # fmt: skip


def test_a_refused_clock_names_its_reason_once_among_the_refusals() -> None:
    refusal = Refused("time base", "Two clocks.", "Use the original file.")
    base = TimeBase("refused", 60.0, 1.0, (), refusal)
    report = Report(
        clip=ClipFacts("ab" * 32, 1280, 720, 190, 3.15, 0), time_base=base,
        versions=Versions("0.1.0", "bundled", "cd" * 32), refusals=(refusal,),
    )  # fmt: skip
    plain = as_json(report)
    assert "refusal" not in plain["time_base"]
    assert [one["reason"] for one in plain["refusals"]] == ["Two clocks."]
    assert json.loads(json.dumps(plain)) == plain
