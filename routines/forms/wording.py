"""What a form says about an answer that is none: what to do, in our own words."""

from collections.abc import Mapping

from django import forms
from django.utils.translation import gettext as _


def speak_plainly(fields: Mapping[str, forms.Field]) -> None:
    """Put our words in the place of the framework's, for each kind of field."""
    for field in fields.values():
        field.error_messages.update(_words(field))


def _words(field: forms.Field) -> dict[str, str]:
    words = {"required": _("Nothing is written here: fill it in.")}
    if isinstance(field, forms.IntegerField):
        words["invalid"] = _("This is no whole number: write one (%(allowed)s).") % {
            "allowed": field.help_text
        }
    elif isinstance(field, forms.DateField):
        words["invalid"] = _("There is no such day: write year, month and day, as in 2026-03-12.")
    elif isinstance(field, forms.ChoiceField):
        words["required"] = _("Nothing is chosen: choose one.")
        # The value itself says nothing to people: a note's number, a student's id.
        words["invalid_choice"] = _("This is not on the list: choose one that is.")
    elif isinstance(field, forms.CharField):
        words["max_length"] = _("%(show_value)d letters: keep to %(limit_value)d.")
        words["null_characters_not_allowed"] = _("A sign nobody can see is in it: write it anew.")
    if isinstance(field, forms.EmailField):
        words["invalid"] = _("This is no e-mail address: write it as in name@example.org.")
    return words
