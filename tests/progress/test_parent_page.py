"""The page for parents: what is on it, and above all what is not."""

import re
from datetime import timedelta

import pytest
from django_scopes import scopes_disabled

from progress.engine.check_in import NoSession
from progress.models import RecordingLeave
from routines.engine.variants import Aim
from studio.words import GrantKind
from tests import makers
from tests.progress import recording_makers as sounds

pytestmark = pytest.mark.django_db
LONGEST_ANSWERS = {"attack": 1, "sound": 2, "evenness": 4, "release": 5}


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def block(nor):
    begun = makers.today(nor.studio) - timedelta(days=13)
    return makers.a_block(nor, first_day=begun, message="Breathe low.", weekdays_off=[])


def page_for(student):
    parents = makers.a_phone(makers.a_grant(student, kind=GrantKind.PARENT))
    answer = parents.get(f"/parent/{student.public_id}")
    assert answer.status_code == 200
    return answer


def words(student) -> str:
    page = re.sub(r"<[^>]+>", " ", page_for(student).content.decode())
    return " ".join(page.split())


def practise(nor, block, days=12, **answers):
    for number in range(days):
        day = block.first_day + timedelta(days=number)
        makers.a_check_in(nor, block=block, day=day, **(LONGEST_ANSWERS | answers))


def test_it_says_what_was_asked_in_plain_words(nor, block):
    said = words(nor)

    assert "Hold a note for 8 counts. Then rest for 8 counts, horn down." in said
    assert "From G down to low F sharp, then up." in said
    assert "Breathe low." in said


def test_it_says_the_days_done_of_those_asked(nor, block):
    practise(nor, block, days=9)

    assert "9 of 14 days so far." in words(nor)


def test_it_says_the_kind_sentence_by_the_childs_name(nor, block):
    for number in range(12):
        day = block.first_day + timedelta(days=number)
        makers.a_check_in(nor, block=block, day=day, release=2 + number // 4)

    assert "12 days. Nor’s endings got cleaner." in words(nor)


def test_it_says_whether_sound_is_recorded_for_how_long_and_who_hears_it(nor, block):
    assert "No sound is recorded." in words(nor)

    sounds.leave(nor, keep_days=30)
    said = words(nor)
    assert "Nor may record a few notes on the phone. A parent said yes on 10 January 2026." in said
    assert "The teachers here can hear it for 30 days. Then the sound is gone." in said
    assert "No recording is here now." in said

    sounds.a_recording(nor)
    sounds.a_recording(nor, file="")
    assert "1 recording is here now." in words(nor)
    with scopes_disabled():
        RecordingLeave.objects.update(is_on=False)
    assert "Recording is off. 1 older recording is still here." in words(nor)


def test_no_answer_of_a_day_is_on_it_not_even_as_the_height_of_a_note(nor, block):
    practise(nor, block, days=3, sound=1)
    low = page_for(nor).content.decode()
    with scopes_disabled():
        nor.checkin_set.update(sound=5, attack=5, effort=10)

    high = page_for(nor).content.decode()

    assert low == high
    assert "0–3" not in low
    assert 'data-state="filed"' in low


def test_nothing_the_student_wrote_and_no_reason_for_a_day_is_on_it(nor, block):
    practise(nor, block, days=2, words="I hate this one", place="lips")
    makers.a_not_today(nor, day=block.first_day + timedelta(days=5), reason=NoSession.NO_TIME)

    said = words(nor)

    assert "hate" not in said
    assert "lips" not in said
    assert "Not today" in said
    assert "no time" not in said


def test_the_word_of_a_decision_is_on_it_only_where_the_student_may_read_it(teacher, nor, block):
    decision = makers.a_decision(block, by=teacher)
    with scopes_disabled():
        decision.reason = "I like your low notes"
        decision.save()
    assert "low notes" not in words(nor)

    with scopes_disabled():
        decision.shown_to_student = True
        decision.save()

    assert "I like your low notes" in words(nor)


def test_what_hurts_is_told_only_where_the_teacher_chose_so(teacher, nor, block):
    told = makers.a_discomfort(nor, place="teeth", how_much="pain")
    makers.a_check_in(nor, block=block, discomfort="pain", place="teeth")
    day = f"{told.day.day} {told.day:%B}"
    before = page_for(nor).content.decode()
    assert "month-hurt" not in before
    assert "something hurt. The teacher has been told" not in before

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/parents-see", {"see": "yes"})

    after = words(nor)
    assert f"Nor said on {day} that something hurt. The teacher has been told." in after
    assert "See a doctor if the pain is strong, stays, or comes back." in after
    assert "teeth" not in after


def test_the_student_reads_on_their_own_month_what_a_parent_sees(nor, block):
    own = makers.a_phone(makers.a_grant(nor))
    path = f"/practice/{nor.public_id}/month"
    assert "A parent can see" not in own.get(path).content.decode()
    makers.a_grant(nor, kind=GrantKind.PARENT)
    assert "A parent can see your plan and your days." in own.get(path).content.decode()

    nor.parents_see_hurts = True
    nor.save()

    assert "your days, and when something hurt." in own.get(path).content.decode()


def test_before_any_block_it_says_that_there_is_nothing_yet(nor):
    assert "Nothing yet this month." in words(nor)


@pytest.mark.parametrize("aim", ["", *Aim])
def test_each_aim_has_one_thing_to_listen_for(nor, aim):
    makers.a_block(nor, aim=aim)

    found = re.search(r'id="listen">.*?<p>([^<]+)</p>', page_for(nor).content.decode(), re.S)

    assert found is not None
    assert found[1].count("?") == 1


def test_five_aims_are_five_things_to_listen_for(teacher):
    heard = set()
    for aim in ["", *Aim]:
        student = makers.a_student(makers.studio_of(teacher))
        makers.a_block(student, aim=aim)
        page = page_for(student).content.decode()
        heard |= set(re.findall(r'id="listen">.*?<p>([^<]+)</p>', page, re.S))

    assert len(heard) == 5


def test_no_search_engine_no_cache_and_no_other_site_learns_of_it(nor, block):
    headers = page_for(nor).headers

    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Robots-Tag"] == "noindex, nofollow"


def test_notes_are_called_as_the_student_calls_them(nor, block):
    nor.note_naming = "german"
    nor.save()

    assert "From G down to low Fis, then up." in words(nor)
