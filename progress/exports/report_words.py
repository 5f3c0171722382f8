"""A first draft of a report: a few sentences from recorded facts, for the teacher to change.

It tells what was done and what rose, and compares a student with nobody else. What is not recorded
is not said.
"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from progress.engine.check_in import Criterion
from progress.queries.reports import Facts, rises
from routines.engine.notes import with_octave
from routines.sheet import naming_of

RISEN = {
    Criterion.ATTACK: gettext_lazy("More notes began cleanly at the end than at the beginning."),
    Criterion.SOUND: gettext_lazy("The sound was full more often at the end."),
    Criterion.EVENNESS: gettext_lazy("More notes stayed steady at the end than at the beginning."),
    Criterion.RELEASE: gettext_lazy("More notes ended neatly at the end than at the beginning."),
}


def draft(facts: Facts) -> str:
    """Write two to five sentences; without a single check-in, one that says so."""
    name = facts.student.name
    if not facts.days:
        return _("No check-ins are recorded for %(name)s in these days.") % {"name": name}
    sentences = [
        ngettext(
            "%(name)s practised long tones on %(days)d day.",
            "%(name)s practised long tones on %(days)d days.",
            facts.days,
        )
        % {"name": name, "days": facts.days},
        *(str(RISEN[criterion]) for criterion in rises(facts)),
    ]
    first, best = facts.first_high, facts.best_high
    if first and best and best.note > first.note:
        naming = naming_of(facts.student)
        notes = {"first": with_octave(first.note, naming), "best": with_octave(best.note, naming)}
        sentences.append(_("The highest good note went from %(first)s to %(best)s.") % notes)
    return " ".join(sentences)
