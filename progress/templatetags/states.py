"""What is said of a student or a day: a word with a sign of its own, as docs/look.md lists them."""

from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.translation import gettext_lazy

from studio.glyphs import address_of

register = template.Library()

# The glyphs of each sign, each with the one attribute that places it.
SIGNS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "no_concern": (("tenuto", "x", "0"),),
    "not_clear": (("breath", "transform", "scale(1.7)"),),
    "may_be_ready": (("hairpin", "x", "0"),),
    "look_in": (("accent", "x", "0"),),
    "repeat": (("repeat", "transform", "translate(-2 0) scale(.66)"),),
    "rest_and_ask": (
        ("fermata", "transform", "translate(0 -3)"),
        ("rest-whole", "transform", "translate(0 16) scale(.9)"),
    ),
    "not_enough": (("rest-whole", "y", "7"),),
    "no_check_ins": (("rest-whole", "y", "3"), ("rest-whole", "y", "13")),
    "filed": (("head", "x", "0"),),
    "by_teacher": (("head-open", "x", "0"),),
    "not_today": (("rest-eighth", "x", "0"),),
    "day_off": (("rest-quarter", "transform", "scale(.75)"),),
}
WORDS: dict[str, Any] = {
    "no_concern": gettext_lazy("No concern"),
    "not_clear": gettext_lazy("Not clear yet"),
    "may_be_ready": gettext_lazy("May be ready"),
    "look_in": gettext_lazy("Look in"),
    "repeat": gettext_lazy("Repeat"),
    "rest_and_ask": gettext_lazy("Rest and ask"),
    "not_enough": gettext_lazy("Not enough yet"),
    "no_check_ins": gettext_lazy("No check-ins"),
    "filed": gettext_lazy("Done"),
    "by_teacher": gettext_lazy("Added by teacher"),
    "not_today": gettext_lazy("Not today"),
    "day_off": gettext_lazy("Day off"),
}


@register.simple_tag
def state_sign(state: str, word: str = "") -> str:
    """Write a state as its sign and its word; `word` stands for its own one."""
    sign = format_html_join(
        "",
        '<use href="{}" {}="{}"/>',
        ((address_of(glyph), name, value) for glyph, name, value in SIGNS.get(state, ())),
    )
    return format_html(
        '<span class="state" data-state="{}"><svg class="sign" viewBox="-12 -12 24 24"'
        ' aria-hidden="true">{}</svg><span>{}</span></span>',
        state,
        sign,
        word or WORDS.get(state, ""),
    )
