"""The words that the player puts together on the phone, in the language of the page.

A sentence has its figures by name, as in "Carry on at note {number} of {total}?", and
js/player/words.js fills them in. Which form a number takes is found here, by gettext; the
phone looks it up.
"""

from collections.abc import Callable
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

# Further up a language begins again with what it did at 100 less.
MOST_COUNTED = 120


def by_number(say: Callable[[int], str]) -> dict[str, Any]:
    """List the forms of a sentence with one {number}, and for each number from 0 which it takes."""
    said = [say(number) for number in range(MOST_COUNTED + 1)]
    forms = list(dict.fromkeys(said))
    return {"forms": forms, "of": "".join(str(forms.index(one)) for one in said)}


def player_words() -> dict[str, Any]:
    """List every sentence of the player under the name that its scripts know it by."""
    return {
        "get_ready": _("Get ready"),
        "breathe_in": _("Breathe in"),
        "hold": _("Hold"),
        "rest": pgettext("silence between notes", "Rest"),
        "horn_off": _("Horn off the face"),
        "paused": _("Paused"),
        "done": _("Done."),
        "stopped": _("Stopped here."),
        "stop_for_today": _("Stop for today."),
        "left": _("You left this page. Your place is kept."),
        "timer_stopped": _("The timer stopped. Your place is kept."),
        "now": _("Now"),
        "first_note": _("First note"),
        "next_note": _("Next note"),
        "last_note": _("Last note"),
        "in_concert": _("{tag}, concert pitch"),
        "next": _("Next note: {note}"),
        "next_up": _("Next note up: {note}"),
        "how_was": _("How was {note}?"),
        "place": _("{number} of {total}"),
        "of_counts": _("of {counts}"),
        "carry_on": _("Carry on"),
        "carry_on_at": _("Carry on at note {number} of {total}?"),
        "carry_on_with": _("Carry on: {note}"),
        "again_from": _("Again from this note: {note}"),
        **_spoken(),
        **_counted(),
        "hurt": _hurt(),
    }


def _spoken() -> dict[str, Any]:
    """List what a screen reader says of a note: it stands in the other three as {note}."""
    return {
        "heard": _("{note}. Hold {hold}, rest {rest}. {loudness}."),
        "heard_last": _("{note}. Hold {hold}, the last note. {loudness}."),
        "concert": _("concert {note}"),
        "say_count_in": _("Get ready. {note}"),
        "say_hold": _("Hold. {note}"),
        "say_rest": _("Rest, horn off the face. Next: {note}"),
    }


def _counted() -> dict[str, Any]:
    return {
        "notes": by_number(lambda number: ngettext("{number} note", "{number} notes", number)),
        "minutes": minutes(),
        "up_to": _("Up to {notes} and {minutes}. You choose the top."),
        "about": _("{notes}. About {minutes}."),
        "played": _("{notes}, {minutes} min {seconds} s."),
        "played_short": _("{notes}, {seconds} s."),
        "last_good": _("Last good note: {note}."),
    }


def minutes() -> dict[str, Any]:
    """Count minutes in words: "7 minutes"."""
    return by_number(lambda number: ngettext("{number} minute", "{number} minutes", number))


def _hurt() -> dict[str, str]:
    """List what becomes of "something hurts", in the order in which it may come."""
    return {
        "telling": _("Telling your teacher now."),
        "sent": _(
            "Thanks for saying so. Rest today. Your teacher has been told. Your plan stays where "
            "it is until you two have talked."
        ),
        "kept": _("Saved on this phone. Tell a grown-up or your teacher now."),
        "lost": _("This phone could not save it. Tell a grown-up or your teacher now."),
    }
