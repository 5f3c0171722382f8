"""A state is told by its word and by its sign, never by colour alone (WCAG 2.2, 1.4.1)."""

import re

from progress.templatetags.states import SIGNS, WORDS, state_sign

STATES = (
    "no_concern", "not_clear", "may_be_ready", "look_in", "repeat", "rest_and_ask", "not_enough",
    "no_check_ins", "filed", "by_teacher", "not_today", "day_off",
)  # fmt: skip


def test_no_two_states_share_a_word_or_a_sign():
    shown = [state_sign(state) for state in STATES]

    words = [re.sub(r"<[^>]*>", "", one).strip() for one in shown]
    signs = [one.partition("<use")[2].partition("</svg>")[0] for one in shown]

    assert set(SIGNS) == set(WORDS) == set(STATES)
    assert all(words)
    assert all(signs)
    assert len(set(words)) == len(STATES)
    assert len(set(signs)) == len(STATES)
