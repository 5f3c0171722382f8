"""A studio as a document and back: equal, whole, without a secret, and whatever the file holds.

The document is JSON (RFC 8259), read here by Python's own reader and, for its tables, by pandas.
"""

import json
import random
from datetime import timedelta
from typing import Any

import pandas
import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import models, transaction
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.exports.everything import studio_text
from progress.models import CheckIn, SetAside
from progress.queries.news import standing_check_ins
from progress.queries.tables import LEFT_OUT, PEOPLE, STUDIO, TABLES
from progress.services.import_rules import FREE_WORDS, WORDS
from progress.services.import_studio import StudioFileError, import_studio
from studio.models import AuditLine, SetupToken, Student, Studio, User
from studio.queries import left_unanswered, phones_of
from studio.services import erased_list, pairing
from studio.services.erase import erase
from studio.words import GrantKind, GrantState, OfferKind, Role
from tests import makers

pytestmark = pytest.mark.django_db
MODELS: list[Any] = [table.model for table in TABLES]
SEED = 2026


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher(name="Runa", email="runa@north-street.example.org")


@pytest.fixture
def studio(teacher):
    """A studio with a row of every kind, and another beside it."""
    place = makers.studio_of(teacher)
    nor = makers.a_student(place, name="Łukasz 🎺", group="=SUM(A1)", teacher=teacher)
    makers.a_student(place, name="Ada", instrument="trombone_tenor", clef="tenor", consent_on=None)
    today, moment = makers.today(place), timezone.now()
    old = makers.a_block(nor, first_day=today - timedelta(days=60), by=teacher)
    block = makers.a_block(nor, first_day=today - timedelta(days=9), weekdays_off=[2, 6])
    makers.a_version(block, plan=makers.a_plan(nor, hold=12, top_note=79), from_day=today)
    phone = makers.a_grant(nor)
    told = makers.a_check_in(nor, block=block, grant=phone.grant, trouble=["low"], completed=0.5)
    moved = makers.a_check_in(nor, block=block, day=today - timedelta(days=2), source="teacher")
    SetAside.objects.create(check_in=told, moved_to=moved, by=teacher, made_at=moment)
    makers.a_not_today(nor, day=today - timedelta(days=3))
    makers.a_discomfort(nor, closed_at=moment, closed_by=teacher)
    makers.an_interruption(nor, first_day=today - timedelta(days=5), note="Half-term\nat sea")
    nor.lessonrating_set.create(block=block, by=teacher, day=today, filed_on=today, sound=4)
    nor.keptmonth_set.create(
        month=today.replace(day=1), days=20, hurt_days=1, sound=3.25, high_note=79
    )
    decision = makers.a_decision(old, by=teacher, choice="repeat")
    decision.next_block, decision.seen = block, {"probability": 0.25, "said": [1, None]}
    decision.save()
    makers.a_template(place, by=teacher)
    nor.report_set.create(
        first_day=old.first_day, last_day=today, words="Well played.", by=teacher, changed_at=moment
    )
    AuditLine.objects.create(
        studio=place, moment=moment, by=teacher, kind="joined", about=nor.public_id
    )
    makers.an_offer(nor, token="a-link-that-lets-in")
    makers.a_student(makers.studio_of(makers.a_teacher()), name="Somebody Else")
    return place


def document(studio: Studio) -> dict[str, Any]:
    made: dict[str, Any] = json.loads("".join(studio_text(studio, timezone.now())))
    return made


def without_moment(made: dict[str, Any]) -> dict[str, Any]:
    return {name: part for name, part in made.items() if name != "made_at"}


def empty() -> None:
    """Leave no row of any studio, as in a new database."""
    for model in reversed([SetupToken, User, Studio, *LEFT_OUT, *MODELS]):
        model._base_manager.all().delete()


def rows() -> int:
    return sum(model._base_manager.count() for model in [*MODELS, Studio, User])


def test_every_kind_of_row_that_leads_to_a_studio_is_copied_or_left_out_for_a_reason():
    known = {STUDIO.model, PEOPLE.model, SetupToken, *MODELS, *LEFT_OUT}
    ours = {
        model
        for app in ("studio", "routines", "progress")
        for model in apps.get_app_config(app).get_models()
    }

    assert ours == known


def test_every_column_of_words_is_held_against_a_list_or_free():
    columns = {
        (table.model, field.name)
        for table in (STUDIO, PEOPLE, *TABLES)
        for field in table.values
        if isinstance(field, models.CharField) and field.name != "public_id"
    }

    assert columns == {*WORDS, *FREE_WORDS}


def test_a_studio_comes_back_equal_in_an_empty_database(studio):
    before = document(studio)
    assert all(before[table.name] for table in TABLES), "a kind of row that is not tried"
    text = json.dumps(before)
    empty()

    import_studio(text)

    assert without_moment(document(Studio.objects.get())) == without_moment(before)


def test_the_invented_studio_comes_back_equal():
    call_command("demo_studio", "--seed", "7", verbosity=0)
    text = "".join(studio_text(Studio.objects.get(), timezone.now()))
    before = json.loads(text)
    empty()

    import_studio(text)

    assert without_moment(document(Studio.objects.get())) == without_moment(before)


def test_pandas_reads_the_tables(studio):
    made = document(studio)

    check_ins = pandas.DataFrame(made["check_ins"])

    assert check_ins["completed"].dropna().tolist() == [0.5]
    assert set(check_ins["student"]) == {made["students"][0]["public_id"]}


def test_no_secret_and_nobody_of_another_studio_is_in_it(studio, teacher):
    text = "".join(studio_text(studio, timezone.now()))

    for row in User.objects.all():
        assert row.password not in text
    for table in TABLES:
        for name in table.left_out & {"secret_hash", "next_secret_hash"}:
            for value in table.model._base_manager.values_list(name, flat=True):
                assert value == "" or value not in text
    assert "a-link-that-lets-in" not in text
    assert "Somebody Else" not in text


def test_nobody_can_sign_in_with_what_was_read_back(studio, teacher):
    text = json.dumps(document(studio))
    empty()

    import_studio(text)

    assert not User.objects.get().has_usable_password()
    nor = Student.objects.get(name="Łukasz 🎺")
    assert makers.a_phone(makers.PairedPhone(grant=nor.grant_set.get(), cookie="x.y")).get(
        reverse("progress:today", args=[nor.public_id])
    ).status_code in {302, 404}


def test_no_phone_of_before_counts_as_one_in_use(studio):
    nor = Student.objects.get(name="Łukasz 🎺")
    for _ in range(pairing.MOST_PHONES - 1):
        makers.a_grant(nor)
    text = json.dumps(document(studio))
    empty()
    import_studio(text)
    nor = Student.objects.get(name="Łukasz 🎺")
    made = pairing.make_offer(
        nor, kind=OfferKind.LESSON, by=User.objects.get(), moment=timezone.now()
    )

    paired = pairing.redeem(made.token, label="New phone", moment=timezone.now())

    assert isinstance(paired, pairing.Redeemed)


def test_what_a_refused_phone_filed_stays_set_aside(studio):
    nor = Student.objects.get(name="Łukasz 🎺")
    phone = makers.a_grant(nor, state=GrantState.REFUSED)
    day = makers.today(studio) - timedelta(days=4)
    makers.a_check_in(nor, block=nor.block_set.last(), day=day, grant=phone.grant)
    text = json.dumps(document(studio))
    empty()

    import_studio(text)

    assert CheckIn.objects.filter(day=day).count() == 1
    assert not standing_check_ins().filter(day=day).exists()


@pytest.mark.parametrize(
    ("kind", "asked"), [(GrantKind.STUDENT, 1), (GrantKind.ONCE, 1), (GrantKind.PARENT, 0)]
)
def test_whose_a_phone_was_that_nobody_has_answered_about_is_asked_where_it_is_read_in(
    studio, kind, asked
):
    nor = Student.objects.get(name="Łukasz 🎺")
    makers.a_grant(nor, kind=kind, state=GrantState.PROVISIONAL)
    text = json.dumps(document(studio))
    empty()

    import_studio(text)

    nor = Student.objects.get(name="Łukasz 🎺")
    assert left_unanswered(nor).count() == asked
    assert phones_of(nor).count() == 0


def test_the_whole_studio_is_given_after_the_password_alone(studio, teacher):
    teacher.membership_set.update(role=Role.OWNER)
    browser = makers.signed_in(teacher)
    address = reverse("progress:studio_copy")

    asked = browser.get(address)
    browser.post(asked["Location"], {"password": makers.PASSWORD})
    given = browser.post(address)

    assert browser.get(address).templates[0].name == "progress/studio_copy.html"
    assert asked["Location"].startswith(reverse("account_reauthenticate"))
    assert given["Content-Disposition"].startswith("attachment")
    assert given.json()["format"] == "filar studio"


def test_an_account_that_is_here_keeps_its_name_and_password(studio, teacher):
    text = json.dumps(document(studio))
    empty()
    makers.a_teacher(name="Runa of here", email="Runa@North-Street.example.org")

    import_studio(text)

    account = User.objects.get()
    assert (account.name, account.check_password(makers.PASSWORD)) == ("Runa of here", True)
    assert account.membership_set.count() == 2


def test_a_student_who_was_erased_does_not_come_back_with_an_older_copy(studio):
    text = json.dumps(document(studio))
    ada = Student.objects.get(name="Ada")
    with scopes_disabled():
        erase(ada, by=None, moment=timezone.now())
    erased_list.add_to(erased_list.path(), erased_list.from_table())
    empty()

    import_studio(text)

    assert not Student.objects.filter(public_id=ada.public_id).exists()
    assert Student.objects.exists()


def test_a_studio_that_is_here_is_left_alone(studio):
    before = rows()

    with pytest.raises(StudioFileError, match="is here already"):
        import_studio(json.dumps(document(studio)))

    assert rows() == before


@pytest.mark.parametrize(
    ("part", "name", "value", "said"),
    [
        ("students", "instrument", "kazoo", "not known here"),
        ("students", "lesson_day", 9, "did not take it"),
        ("students", "name", "a" * 81, "at most 80"),
        ("students", "child", "yes", "must be either True or False"),
        ("students", "public_id", "../../etc", "16 hexadecimal digits"),
        ("students", "teacher", "nobody@example.org", "no such row"),
        ("students", "surname", "x", "missing or not known: surname"),
        ("memberships", "role", "emperor", "choose cover, owner, teacher"),
        ("blocks", "weekdays_off", [0, 1, 2, 3, 4, 5, 6], "list up to six"),
        ("blocks", "first_day", "9999-12-31", "give a day from 1990"),
        ("blocks", "first_day", "2026-1-5", "not written as an export"),
        ("block_versions", "hold", 99, "Hold 99 counts"),
        ("block_versions", "start_note", 3, "goes from"),
        ("block_versions", "dynamics", "very loud", "very loud"),
        ("check_ins", "attack", 6, "did not take it"),
        ("check_ins", "attack", 4.0, "not written as an export"),
        ("check_ins", "attack", True, "not written as an export"),
        ("check_ins", "words", "a\x00b", "NUL"),
        ("check_ins", "words", "\ud800", "halves of a letter"),
        ("students", "name", "a\udfff", "halves of a letter"),
        ("decisions", "variables", ["\ud800"], "a list of words"),
        ("decisions", "seen", {"said": ["\ud800"]}, "give an object"),
        ("decisions", "seen", {"\x00": 1}, "give an object"),
        ("decisions", "seen", {"said": float("1e999")}, "not a whole JSON|give an object"),
        ("decisions", "seen", {"is_readable": True, "probability": "high"}, "probability of 0 to"),
        ("decisions", "seen", {"is_readable": True}, "probability of 0 to"),
        ("decisions", "seen", {"a": [[[[[[[[1]]]]]]]]}, "give an object"),
        ("phones", "state", "confirmed", "choose ended, provisional, refused"),
        ("check_ins", "trouble", ["everywhere"], "list low, middle or high"),
        ("decisions", "choice", "expel", "choose change"),
        ("studio", "time_zone", "Mars/Olympus", "not known here"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_made(studio, part, name, value, said):
    made = document(studio)
    row = made[part] if part == "studio" else made[part][0]
    row[name] = value
    empty()

    with pytest.raises(StudioFileError, match=said), transaction.atomic():
        import_studio(json.dumps(made))

    assert rows() == 0


def test_a_row_that_names_rows_of_two_students_is_refused(studio):
    made = document(studio)
    made["blocks"][0]["student"] = made["students"][1]["public_id"]
    empty()

    with pytest.raises(StudioFileError, match="two students"):
        import_studio(json.dumps(made))

    assert rows() == 0


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", "[" * 100_000, '{"format": "filar studio"}', '{"a": NaN}', "9" * 5000],
)
def test_what_is_no_document_is_said_in_one_line(text):
    with pytest.raises(StudioFileError) as told:
        import_studio(text)

    assert "\n" not in str(told.value)


@pytest.mark.battery
def test_a_file_that_was_spoiled_anywhere_is_made_whole_or_not_at_all(studio, is_battery, figures):
    made, chance = json.dumps(document(studio)), random.Random(SEED)  # noqa: S311 - no secret
    empty()
    counts = {"made": 0, "refused": 0}
    for _ in range(5000 if is_battery else 150):
        spoiled = json.loads(made)
        _spoil(spoiled, chance)
        try:
            with transaction.atomic():
                import_studio(json.dumps(spoiled))
                again = document(Studio.objects.get())
                assert without_moment(again) == without_moment(spoiled)
                counts["made"] += 1
                transaction.set_rollback(True)
        except StudioFileError:
            counts["refused"] += 1
        assert rows() == 0
    figures.append(f"spoiled files, seed {SEED}: {counts}, 0 tracebacks, 0 in part")


def _spoil(made: dict[str, Any], chance: random.Random) -> None:
    """Put something else where one value was, anywhere in the document."""
    odd: list[Any] = [None, "", "x", 0, -1, 7, 1e9, 0.5, True, [], {}, "2026-02-30", "\x00", 2**70]
    part = chance.choice(sorted(set(made) - {"made_at"}))
    place = made[part]
    if isinstance(place, list) and place and chance.random() < 0.95:
        place = chance.choice(place)
        if isinstance(place, dict) and chance.random() < 0.95:
            place[chance.choice(sorted(place))] = chance.choice(odd)
            return
    made[part] = chance.choice(odd) if chance.random() < 0.5 else [chance.choice(odd)]


def test_the_commands_write_a_file_for_its_owner_and_read_it_back(studio, tmp_path, capsys):
    Studio.objects.exclude(pk=studio.pk).delete()
    file = tmp_path / "studio.json"
    call_command("export_studio", "--out", str(file))
    assert file.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [file]
    empty()

    call_command("import_studio", str(file))

    assert json.loads(capsys.readouterr().out)["rows"]["students"] == 2


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("export_studio",), "Which studio"),
        (("export_studio", "0" * 16), "There is no studio"),
        (("import_studio", "/no/such/file"), "No such file"),
    ],
)
def test_what_a_command_cannot_do_is_one_line(studio, command, said):
    with pytest.raises(CommandError, match=said) as told:
        call_command(*command)

    assert told.value.returncode == 2
    assert "\n" not in str(told.value)


def test_a_file_that_is_there_is_not_written_over(studio, tmp_path):
    file = tmp_path / "studio.json"
    file.write_text("mine")

    with pytest.raises(CommandError, match="is there already"):
        call_command("export_studio", studio.public_id, "--out", str(file))

    assert file.read_text() == "mine"


def test_a_teacher_takes_one_students_rows_and_nobody_elses(studio, teacher):
    ada = Student.objects.get(name="Ada")
    makers.a_block(ada)

    answer = makers.signed_in(teacher).post(reverse("progress:student_copy", args=[ada.public_id]))

    made = json.loads(answer.content)
    assert answer["Content-Disposition"].startswith("attachment")
    assert [row["name"] for row in made["students"]] == ["Ada"]
    assert {row["student"] for row in made["blocks"]} == {ada.public_id}
    assert "Łukasz" not in answer.content.decode()
