"""Cautions from published criteria, with their grey bands."""

from __future__ import annotations

import pytest

from measure.cautions import STANDING_NOTICE, assess_cautions
from measure.criteria import CRITERIA
from measure.report import JumpReport, LandingReport


def jump(number: int = 1, *, side: str = "both", **landing) -> JumpReport:
    return JumpReport(
        take_off_s=10.0 * number, take_off_sigma_s=0.002, landing_s=10.0 * number + 0.5,
        landing_sigma_s=0.002, flight_time_s=0.5, flight_time_sigma_s=0.003, height_m=0.3,
        height_sigma_m=0.004, take_off_side=side, landing_side=side,
        landing=LandingReport(**landing),
    )  # fmt: skip


def knee(number: int = 1, *, contact_deg: float, sigma_deg: float = 5.0, **more) -> JumpReport:
    return jump(
        number, knee_flexion_contact_deg={"left": contact_deg},
        knee_flexion_contact_sigma_deg={"left": sigma_deg}, **more,
    )  # fmt: skip


def codes(*jumps, **how) -> list[str]:
    return [caution.code for caution in assess_cautions(jumps, **how)]


@pytest.mark.parametrize(
    ("contact_deg", "flagged", "borderline"),
    [(20, True, False), (26, True, True), (34, True, True), (36, False, False)],
)
def test_knee_at_contact_below_30_with_its_grey_band(contact_deg, flagged, borderline):
    """Landing-error scheme, Padua 2009: an error where flexion at contact is below 30 degrees."""
    found = assess_cautions([knee(contact_deg=contact_deg)])
    assert bool(found) == flagged
    if found:
        assert found[0].text.startswith("Borderline") == borderline
        assert found[0].threshold == "below 30 degrees"
        assert "10.1177/0363546509343200" in found[0].source
        assert f"{contact_deg} ± 5 degrees (left)" in found[0].seen


@pytest.mark.parametrize(("change_deg", "flagged"), [(30, True), (60, False)])
def test_knee_that_gives_less_than_45(change_deg, flagged):
    """Padua 2009, from memory: an error where flexion grows by less than 45 degrees."""
    landed = jump(knee_flexion_change_deg={"right": change_deg},
                  knee_flexion_change_sigma_deg={"right": 4.0})  # fmt: skip
    assert codes(landed) == (["knee_gives_little"] if flagged else [])


@pytest.mark.parametrize(
    ("angle_deg", "sex", "side", "flagged"),
    [(16, None, "both", True), (11, None, "both", False), (11, "male", "both", True),
     (11, "female", "both", False), (15, None, "left", True), (10.5, None, "left", False),
     (12, "male", "left", True)],
)  # fmt: skip
def test_knee_inside_beyond_the_published_ranges(angle_deg, sex, side, flagged):
    """Herrington and Munro 2010: drop jump women 7-13, men 3-8; single-leg 5-12 and 1-9."""
    foot = "left"
    landed = jump(side=side, frontal_knee_angle_deg={foot: angle_deg},
                  frontal_knee_angle_sigma_deg={foot: 1.0})  # fmt: skip
    assert ("knee_inside" in codes(landed, sex=sex)) == flagged


def test_the_projection_is_said_to_be_one():
    landed = jump(frontal_knee_angle_deg={"left": 20.0}, frontal_knee_angle_sigma_deg={"left": 4.5})
    assert "not an abduction" in assess_cautions([landed])[0].source


@pytest.mark.parametrize(("ratio", "flagged"), [(0.6, True), (1.2, False)])
def test_knees_closer_than_ankles(ratio, flagged):
    landed = jump(knee_ankle_separation_ratio=ratio, knee_ankle_separation_sigma_ratio=0.07)
    assert codes(landed) == (["knees_closer_than_ankles"] if flagged else [])


@pytest.mark.parametrize(("lean_deg", "flagged"), [(12, True), (-12, True), (1, False)])
def test_leaning_counts_to_both_sides(lean_deg, flagged):
    landed = jump(trunk_side_lean_deg=lean_deg, trunk_side_lean_sigma_deg=3.0)
    assert codes(landed) == (["trunk_leans_sideways"] if flagged else [])


def test_the_worse_foot_speaks():
    landed = jump(frontal_knee_angle_deg={"left": 3.0, "right": 22.0},
                  frontal_knee_angle_sigma_deg={"left": 4.0, "right": 4.0})  # fmt: skip
    assert "(right)" in assess_cautions([landed])[0].seen


def test_a_single_landing_is_said_to_be_single_and_three_make_a_pattern():
    one = assess_cautions([knee(contact_deg=15)])[0]
    two = assess_cautions([knee(k, contact_deg=15) for k in (1, 2)])[0]
    three = assess_cautions([knee(k, contact_deg=15 + k) for k in (1, 2, 3)])[0]
    assert "single landing" in one.text
    assert "2 of 2" in two.text
    assert "3 make a pattern" in two.text
    assert "a pattern" in three.text
    assert three.seen == "mean 17 ± 5 degrees of 3 landings"


def test_one_bad_landing_in_four_is_no_pattern():
    jumps = [knee(1, contact_deg=50), knee(2, contact_deg=15), knee(3, contact_deg=50),
             knee(4, contact_deg=32)]  # fmt: skip
    (found,) = assess_cautions(jumps)
    assert "Clearly in 1 of 4 landings, borderline in 1" in found.text
    assert found.time_s == 20.5


def test_quick_hops_are_asked_to_be_stiff():
    assert codes(knee(contact_deg=15, is_rebounded=True)) == []
    inside = jump(is_rebounded=True, frontal_knee_angle_deg={"left": 25.0},
                  frontal_knee_angle_sigma_deg={"left": 4.0})  # fmt: skip
    assert codes(inside) == ["knee_inside"]


def test_a_lost_balance_names_what_happened():
    (found,) = assess_cautions([jump(side="left", extra_step=True, held_s=0.8, held_sigma_s=0.02,
                                     hold_ended_by="other_foot_down")])  # fmt: skip
    assert found.code == "balance_lost"
    assert found.seen == "the other foot touched down after 0.80 ± 0.02 s"


@pytest.mark.parametrize(("part", "flagged"), [("toe", False), ("heel", True), ("flat", True)])
def test_heel_or_flat_first(part, flagged):
    assert (codes(jump(contact_part=part)) == ["heel_or_flat_contact"]) == flagged


def test_nothing_measured_nothing_said():
    assert assess_cautions([]) == ()
    assert assess_cautions([jump()]) == ()


def test_the_notice_describes_and_sends_to_a_professional():
    for word in ("no diagnosis", "predicts no injury", "pain", "swelling", "gives way", "locks",
                 "injury or surgery without clearance"):  # fmt: skip
        assert word in STANDING_NOTICE


def test_no_criterion_speaks_of_risk_or_a_total():
    for criterion in CRITERIA:
        words = f"{criterion.text} {criterion.coaching}".lower()
        assert not any(word in words for word in ("risk", "injur", "score", "total"))
        assert criterion.source
        assert criterion.coaching
