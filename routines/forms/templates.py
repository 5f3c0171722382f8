"""The name of a template."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from routines.forms.wording import speak_plainly


class TemplateForm(forms.Form):
    """What a teacher calls a block that is kept to begin others with."""

    # In the builder it stands, empty, inside a form that is sent without it.
    use_required_attribute = False

    called = forms.CharField(
        label=_("Its name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak_plainly(self.fields)
        words = self.fields["called"].error_messages
        words["required"] = _("It has no name yet: write one, such as Horns in autumn.")
