"""Variants: the counts of the trade, and how many variables each changes."""

from dataclasses import replace

import pytest

from routines.engine import dynamics
from routines.engine.instruments import by_id
from routines.engine.plan import baseline
from routines.engine.variants import COUNTS, Variant, apply, changed, named


def _first_block(**changes):
    return replace(baseline(by_id("trumpet_bb")), **changes)


# Common practice, no published source, all four.
@pytest.mark.parametrize(
    ("variant", "hold", "rest", "changes"),
    [
        (Variant.BASELINE, 8, 8, ()),
        (Variant.ENDURANCE, 12, 8, ("hold",)),
        (Variant.RECOVERY, 8, 4, ("rest",)),
        (Variant.COMPACT, 4, 4, ("hold", "rest")),
    ],
)
def test_a_variant_has_the_counts_of_the_trade(variant, hold, rest, changes):
    plan = apply(variant, _first_block())

    assert (plan.hold, plan.rest) == (hold, rest)
    assert (COUNTS[variant].hold, COUNTS[variant].rest) == (hold, rest)
    assert changed(_first_block(), plan) == changes


@pytest.mark.parametrize(
    ("changes", "variant"),
    [
        ({}, Variant.BASELINE),
        ({"hold": 12}, Variant.ENDURANCE),
        ({"rest": 4}, Variant.RECOVERY),
        ({"hold": 4, "rest": 4}, Variant.COMPACT),
        ({"hold": 4, "rest": 4, "dynamics": dynamics.parse("by-day:f,p")}, Variant.CONTRAST),
        ({"dynamics": dynamics.parse("by-note:mf,pp")}, Variant.CONTRAST),
        ({"dynamics": dynamics.parse("inside:swell")}, Variant.BASELINE),
        ({"hold": 9}, None),
        ({"rest": 9}, None),
    ],
)
def test_a_plan_is_named_by_its_counts_and_by_dynamics_that_change(changes, variant):
    assert named(_first_block(**changes)) == variant


def test_contrast_changes_nothing_but_the_dynamics():
    plan = apply(Variant.CONTRAST, _first_block(hold=12))

    assert changed(_first_block(hold=12), plan) == ("dynamics",)
    assert str(plan.dynamics) == "by-day:f,p"


@pytest.mark.parametrize("text", ["by-note:ff,p", "by-day:mf,pp", "inside:swell"])
def test_contrast_leaves_dynamics_that_change_already(text):
    plan = _first_block(dynamics=dynamics.parse(text))

    assert apply(Variant.CONTRAST, plan) == plan


def test_baseline_after_contrast_is_mezzo_forte_again():
    contrast = apply(Variant.CONTRAST, _first_block())

    assert apply(Variant.BASELINE, contrast) == _first_block()


def test_baseline_keeps_a_level_the_teacher_chose():
    soft = _first_block(dynamics=dynamics.parse("p"), hold=12)

    assert str(apply(Variant.BASELINE, soft).dynamics) == "p"


@pytest.mark.parametrize("variant", Variant)
def test_a_variant_applied_twice_changes_nothing_more(variant):
    once = apply(variant, _first_block(tempo=72))

    assert apply(variant, once) == once
