"""A studio's templates: kept, renamed, removed, put back. Blocks made from one are copies."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from routines.engine import instruments, section
from routines.engine.plan import BlockPlan
from routines.engine.section import Pitch
from routines.engine.variants import Aim
from routines.models import Template
from routines.queries import templates
from studio.models import Studio, User

PUT_BACK_TIME = timedelta(minutes=10)


class TemplateError(ValueError):
    """A template that cannot be kept under its name; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a template keeps of a block: all but the students, the first day and the words."""

    plan: BlockPlan
    pitch: Pitch
    length_days: int
    weekdays_off: frozenset[int]
    aim: Aim | None = None


def save_template(studio: Studio, kept: Kept, *, name: str, by: User, moment: datetime) -> Template:
    """Keep a block by name; a name that is taken is TemplateError, and nothing is replaced.

    Notes that only a differently built instrument has end where the usual one ends.
    """
    plan = section.carry(kept.plan, kept.plan.player, instruments.USUAL)
    try:
        with transaction.atomic():
            template: Template = Template.objects.create(
                studio=studio,
                name=name,
                instrument=plan.instrument,
                pitch=kept.pitch,
                start_note=plan.start_note,
                low_note=plan.low_note,
                top_note=plan.top_note,
                back=plan.back,
                hold=plan.hold,
                rest=plan.rest,
                tempo=plan.tempo,
                dynamics=str(plan.dynamics),
                length_days=kept.length_days,
                weekdays_off=sorted(kept.weekdays_off),
                aim=kept.aim or "",
                made_by=by,
                made_at=moment,
            )
    except IntegrityError as error:
        raise _refused(name, error) from error
    return template


def rename_template(template: Template, *, name: str) -> Template:
    """Give a template another name; one that is taken is TemplateError."""
    template.name = name
    try:
        with transaction.atomic():
            template.save(update_fields=["name"])
    except IntegrityError as error:
        raise _refused(name, error) from error
    return template


def remove_template(template: Template, *, moment: datetime) -> None:
    """Take a template off the list; it can be put back for ten minutes, and is then forgotten."""
    Template.objects.filter(removed_at__lt=moment - PUT_BACK_TIME).delete()
    if template.removed_at is None:
        template.removed_at = moment
        template.save(update_fields=["removed_at"])


def put_back_template(template: Template, *, moment: datetime) -> Template:
    """Put a template back that was removed lately; TemplateError where that cannot be."""
    if template.removed_at is None:
        return template
    if template.removed_at < moment - PUT_BACK_TIME:
        message = _("That was over ten minutes ago, so it is gone: save it anew from the builder.")
        raise TemplateError(message)
    template.removed_at = None
    try:
        with transaction.atomic():
            template.save(update_fields=["removed_at"])
    except IntegrityError as error:
        raise _refused(template.name, error) from error
    return template


def _refused(name: str, error: IntegrityError) -> Exception:
    """Say that a name is taken; anything else the database refused stays what it is."""
    if not templates().filter(name__iexact=name).exists():
        return error
    message = _(
        "You have a template “%(name)s” already: choose another name, or delete that one."
    ) % {"name": name}
    return TemplateError(message)
