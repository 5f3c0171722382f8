"""What the session's page tells the player and a screen reader of each note."""

import json
import re
from datetime import timedelta

import pytest

from routines.engine.notes import Naming
from tests import makers

pytestmark = pytest.mark.django_db
# GNU LilyPond Notation Reference 2.25, "Note names in other languages", and music21 10.5.
LOW_F_SHARP = {
    Naming.LETTERS: ("F♯", "low F sharp"),
    Naming.GERMAN: ("Fis", "low Fis"),
    Naming.DUTCH: ("fis", "low fis"),
    Naming.ITALIAN: ("fa♯", "low fa diesis"),
    Naming.FRENCH: ("fa♯", "low fa dièse"),
    Naming.SPANISH: ("fa♯", "low fa sostenido"),
}


@pytest.mark.parametrize("naming", Naming)
def test_the_session_has_each_note_for_the_eye_and_in_words(naming):
    student = makers.a_student(makers.a_studio(), note_naming=naming.value)
    makers.a_block(student, first_day=makers.today(student.studio) - timedelta(days=1))
    phone = makers.a_phone(makers.a_grant(student))

    page = phone.get(f"/practice/{student.public_id}/session").content.decode()

    data = re.search(r'<script id="session-data"[^>]*>(.*?)</script>', page)
    assert data is not None
    lowest = next(step for step in json.loads(data[1])["steps"] if step["written"] == 54)
    assert (lowest["label"], lowest["spoken"]) == LOW_F_SHARP[naming]
    seen, said = LOW_F_SHARP[naming]
    capital = said[0].upper() + said[1:]
    assert (
        f'<li><span aria-hidden="true">{seen}</span><span class="unseen">{capital}</span>, ' in page
    )
