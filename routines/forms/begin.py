"""What the builder begins with: a plan, a variant's counts, a grade's range, a template."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from django.http import QueryDict

from routines.engine import dynamics, instruments, plan, section, variants
from routines.engine.grades import Tier, first_block
from routines.engine.instruments import Instrument, Setup
from routines.engine.plan import BlockPlan, Month
from routines.engine.section import Pitch
from routines.engine.variants import Variant
from routines.forms.plan import as_fields
from routines.models import Template
from studio.models import new_public_id


def begin_with(base: BlockPlan, *, first_day: date) -> dict[str, Any]:
    """Fill the builder with a plan: what a teacher starts to change."""
    return {
        **as_fields(base),
        "batch": new_public_id(),
        "pitch": Pitch.OWN.value,
        "first_day": first_day,
        "length_days": plan.DEFAULT_LENGTH,
        "weekdays_off": [str(plan.SUNDAY)],
    }


def by_variant(variant: Variant, begun: Mapping[str, Any]) -> dict[str, Any]:
    """Say which of the builder's fields a variant sets, and to what; the others stay."""
    try:
        now = dynamics.parse(str(begun["dynamics"]))
    except dynamics.DynamicsError:
        now = dynamics.MEZZO_FORTE
    player = instruments.by_id(str(begun["instrument"]))
    applied = variants.apply(variant, replace(plan.baseline(player), dynamics=now))
    counts = {} if variant is Variant.CONTRAST else {"hold": applied.hold, "rest": applied.rest}
    return {"dynamics": str(applied.dynamics), **counts}


def as_typed(values: Mapping[str, Any]) -> QueryDict:
    """Say a form's first values as if they had been sent."""
    typed = QueryDict(mutable=True)
    for name, value in values.items():
        typed.setlist(name, value if isinstance(value, list) else [str(value)])
    return typed


def by_tier(tier: Tier, instrument: Instrument, setup: Setup) -> dict[str, Any]:
    """Say which fields the first block of a grade sets: counts and notes."""
    asked = as_fields(first_block(tier, instrument, setup))
    return {name: asked[name] for name in ("hold", "rest", "start_note", "low_note", "top_note")}


def by_template(template: Template, instrument: Instrument, setup: Setup) -> dict[str, Any]:
    """Say which fields a template sets: all that it keeps, its notes as this instrument's."""
    in_one_pitch = template.pitch == Pitch.CONCERT
    carried = (section.in_concert if in_one_pitch else section.carry)(
        template.plan, instrument, setup
    )
    return {
        **as_fields(carried),
        "pitch": template.pitch,
        "length_days": template.length_days,
        "weekdays_off": [str(day) for day in template.weekdays_off],
        "aim": template.aim,
    }


def by_month(asked: BlockPlan, month: Month) -> dict[str, Any]:
    """Say which fields a plan and its month set, to be played once more."""
    return {
        **as_fields(asked),
        "first_day": month.first_day,
        "length_days": month.length_days,
        "weekdays_off": [str(day) for day in sorted(month.weekdays_off)],
    }
