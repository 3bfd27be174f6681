"""Kept reports to what events move, and back."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from measure.report import (
    ForceProfile,
    JumpReport,
    LandingReport,
    MarkTime,
    SplitTime,
    SprintReport,
    StepContact,
    TurnTime,
)
from measure.review import Reviewed
from measure.types import Contact, Instant


def reviewed_from_json(report: dict[str, Any]) -> Reviewed:
    """Give what of a kept report hangs on its events."""
    sprint = report.get("sprint")
    return Reviewed(
        jumps=tuple(_jump(plain) for plain in report.get("jumps", [])),
        contacts=tuple(_contact(plain) for plain in report.get("contacts", [])),
        sprint=None if sprint is None else reviewed_run(sprint),
    )


def _jump(plain: dict[str, Any]) -> JumpReport:
    landing = plain.get("landing")
    rest = {key: value for key, value in plain.items() if key != "landing"}
    return JumpReport(**rest, landing=None if landing is None else LandingReport(**landing))


def _contact(plain: dict[str, Any]) -> Contact:
    ends = {
        side: Instant(plain[f"{side}_s"], plain[f"{side}_sigma_s"])
        if f"{side}_s" in plain
        else None
        for side in ("start", "end")
    }
    return Contact(plain["foot"], ends.get("start"), ends.get("end"))


NESTED = ("marks", "splits", "turn", "step_contacts", "force_profile")


def reviewed_run(plain: dict[str, Any]) -> SprintReport:
    """Give the run of a kept report."""
    rest = {key: value for key, value in plain.items() if key not in NESTED}
    rest.setdefault("start_s", None)
    rest.setdefault("start_sigma_s", None)
    rest["followed"] = tuple(rest.get("followed", ()))
    return SprintReport(
        **rest,
        marks=tuple(MarkTime(**mark) for mark in plain.get("marks", [])),
        splits=tuple(SplitTime(**split) for split in plain.get("splits", [])),
        turn=TurnTime(**plain["turn"]) if plain.get("turn") else None,
        step_contacts=tuple(StepContact(**stand) for stand in plain.get("step_contacts", [])),
        force_profile=(
            ForceProfile(**plain["force_profile"]) if plain.get("force_profile") else None
        ),
    )


def json_with_reviewed(report: dict[str, Any], measured: Reviewed) -> dict[str, Any]:
    """Give a kept report with numbers that were made anew."""
    changed = dict(report)
    changed["jumps"] = [_plain(asdict(jump)) for jump in measured.jumps]
    changed["contacts"] = [_plain_contact(contact) for contact in measured.contacts]
    if measured.sprint is not None:
        changed["sprint"] = _plain(asdict(measured.sprint))
    changed["refusals"] = [*report.get("refusals", []), *map(asdict, measured.refusals)]
    return changed


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _plain_contact(contact: Contact) -> dict[str, Any]:
    plain: dict[str, Any] = {"foot": contact.foot}
    for side in ("start", "end"):
        instant: Instant | None = getattr(contact, side)
        if instant is not None:
            plain |= {f"{side}_s": instant.time_s, f"{side}_sigma_s": instant.sigma_s}
    return plain
