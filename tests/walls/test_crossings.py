"""No key of a row leads into another studio: refused when saved, found when it is there."""

from datetime import timedelta
from io import StringIO
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db.models import ForeignKey
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import (
    CheckIn,
    Decision,
    LessonRating,
    Recording,
    RecordingLeave,
    SetAside,
)
from studio import crossings
from studio.models import Grant, Letter, Membership, Offer, Student, Studio, User
from tests import makers

pytestmark = pytest.mark.django_db

# Every key of every model of a studio, besides the one by which the row itself belongs to it.
SIDE_WAYS = [
    (model, key) for model in crossings.owned_models() for key, _ in crossings.side_ways(model)
]


def rows_of(name):
    """Make one row of each model in a studio of its own."""
    studio = makers.a_studio(name=name)
    teacher = makers.a_teacher(studio)
    student = makers.a_student(studio, teacher=teacher)
    offer = makers.an_offer(student, by=teacher)
    grant = makers.a_grant(student, offer=offer).grant
    block = makers.a_block(student, by=teacher)
    check_in = makers.a_check_in(student, block=block, grant=grant)
    moved = makers.a_check_in(student, block=block, day=makers.today(studio) - timedelta(days=1))
    later = makers.a_block(student, first_day=makers.today(studio) + timedelta(days=40))
    decision = makers.a_decision(block, by=teacher)
    with scopes_disabled():
        decision.next_block = later
        decision.save()
        told = makers.a_not_today(student, day=makers.today(studio) - timedelta(days=2))
        told.grant = grant
        told.save()
        rows = [
            SetAside.objects.create(
                check_in=check_in, moved_to=moved, by=teacher, made_at=timezone.now()
            ),
            LessonRating.objects.create(
                student=student, block=block, by=teacher, day=block.first_day,
                filed_on=block.first_day,
            ),
            Letter.objects.create(
                studio=studio, student=student, key=str(uuid4()), to="a@example.org",
                made_at=timezone.now(), next_try_at=timezone.now(),
            ),
            RecordingLeave.objects.create(
                student=student, asked_for=block, changed_at=timezone.now()
            ),
            Recording.objects.create(
                student=student, block=block, grant=grant, key=uuid4(), day=block.first_day,
                received_at=timezone.now(), kept_until=block.last_day, size=1, sha256="",
            ),
            told, decision, check_in, grant, block, offer, student,
        ]  # fmt: skip
    return {type(row): row for row in rows}


@pytest.mark.parametrize(
    ("model", "key"), SIDE_WAYS, ids=[f"{model.__name__}.{key}" for model, key in SIDE_WAYS]
)
def test_a_key_into_another_studio_is_refused_and_the_nightly_look_would_find_it(model, key):
    here, elsewhere = rows_of("Here")[model], rows_of("Elsewhere")[model]
    foreign = getattr(elsewhere, f"{key}_id")
    with scopes_disabled():
        row = model.objects.get(pk=here.pk)
        setattr(row, f"{key}_id", foreign)

        with pytest.raises(crossings.CrossingError, match=f"{model.__name__}.{key} leads from"):
            row.save()
        with pytest.raises(crossings.CrossingError, match=f"{model.__name__}.{key} leads from"):
            row.save(update_fields=[key])

        field = model._meta.get_field(key)
        if field.unique:
            model.objects.filter(pk=elsewhere.pk).delete()
        model.objects.filter(pk=here.pk).update(**{key: foreign})
    assert (f"{model.__name__}.{key}", 1) in list(crossings.found())


@pytest.mark.parametrize("model", sorted({model for model, _ in SIDE_WAYS}, key=str))
def test_no_row_moves_into_another_studio_and_leaves_its_other_keys_behind(model):
    here, elsewhere = rows_of("Here")[model], rows_of("Elsewhere")[model]
    home = crossings.way_home(model).partition("__")[0]
    with scopes_disabled():
        row = model.objects.get(pk=here.pk)
        setattr(row, f"{home}_id", getattr(elsewhere, f"{home}_id"))

        with pytest.raises(crossings.CrossingError):
            row.save(update_fields=[home])


def test_a_key_that_leads_nowhere_hides_none_after_it():
    here, elsewhere = rows_of("Here")[CheckIn], rows_of("Elsewhere")[Grant]
    with scopes_disabled():
        row = CheckIn.objects.get(pk=here.pk)
        row.grant_id = elsewhere.pk
        setattr(row, "block_id", None)  # noqa: B010 - none, as a row may never have it

        with pytest.raises(crossings.CrossingError, match=r"CheckIn\.grant leads from"):
            row.save()


def test_the_keys_that_could_cross_are_these():
    assert {(model.__name__, key) for model, key in SIDE_WAYS} == {
        ("CheckIn", "block"), ("CheckIn", "version"), ("CheckIn", "grant"),
        ("Decision", "block"), ("Decision", "next_block"), ("Grant", "offer"),
        ("LessonRating", "block"), ("Letter", "student"), ("NotToday", "grant"),
        ("Recording", "block"), ("Recording", "grant"), ("RecordingLeave", "asked_for"),
        ("SetAside", "moved_to"),
    }  # fmt: skip


def test_every_key_of_a_row_is_its_way_home_or_watched_or_leads_to_a_teacher():
    for model in crossings.owned_models():
        watched = {key for key, _ in crossings.side_ways(model)}
        watched.add(crossings.way_home(model).partition("__")[0])
        keys = [field for field in model._meta.concrete_fields if isinstance(field, ForeignKey)]
        others = {field.remote_field.model for field in keys if field.name not in watched}
        assert others <= {User}, model


def test_a_key_to_a_teacher_of_another_studio_is_found():
    rows_of("Here")
    stranger = makers.a_teacher(makers.a_studio(name="Elsewhere"))
    with scopes_disabled():
        Student.objects.update(teacher=stranger)

    assert list(crossings.found()) == [("Student.teacher", 1)]


def test_a_teacher_who_has_left_is_no_stranger():
    rows_of("Here")
    with scopes_disabled():
        Membership.objects.update(ended_at=timezone.now())

    assert list(crossings.found()) == []


def test_two_whole_studios_beside_each_other_cross_nowhere():
    rows_of("Here")
    rows_of("Elsewhere")

    out = StringIO()
    call_command("check_database", "--studios", stdout=out)

    assert out.getvalue() == "ok\n"


def test_the_nightly_look_says_where_and_how_many():
    here, elsewhere = rows_of("Here"), rows_of("Elsewhere")
    with scopes_disabled():
        CheckIn.objects.filter(student=here[Student]).update(block=elsewhere[Decision].block)

    with pytest.raises(CommandError, match=r"into another: CheckIn\.block: 2\."):
        call_command("check_database", "--studios")


def test_what_is_written_without_its_keys_asks_nothing(django_assert_num_queries):
    grant = rows_of("Here")[Grant]
    with scopes_disabled():
        fresh = Grant.objects.get(pk=grant.pk)
        fresh.last_day = makers.today(Studio.objects.get())
        with django_assert_num_queries(1):
            fresh.save(update_fields=["last_day"])


def test_a_row_without_the_key_is_saved():
    with scopes_disabled():
        assert Offer.objects.count() == 0
        student = makers.a_student(makers.a_studio())
        assert makers.a_grant(student, offer=None).grant.pk
