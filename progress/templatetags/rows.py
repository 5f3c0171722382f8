"""The overview's rows, of which most are the same as at the last look."""

from django import template
from django.template.loader import render_to_string
from django.urls import get_script_prefix
from django.utils.translation import get_language

from progress.views.row import Row

register = template.Library()


@register.simple_tag
def overview_row(row: Row, *, may_change: bool) -> str:
    """Write a row of the overview, once for a month that has not changed since.

    The text is kept with the month, by all that it depends on besides. Where the month was made
    anew, nothing is kept.
    """
    name = ("text", may_change, row.apart, get_language(), get_script_prefix())
    text: str | None = row.month.derived.get(name)
    if text is None:
        text = render_to_string("progress/_row.html", {"row": row, "may_change": may_change})
        row.month.derived[name] = text
    return text
