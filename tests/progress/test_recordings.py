"""Recordings: who may make and hear them, what is taken, and when the sound goes."""

import io
import json
import os
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from io import StringIO
from threading import Barrier
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import numpy as np
import pytest
import soundfile
from django.core.handlers.wsgi import WSGIRequest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.engine.held_notes.limits import RecordingError
from progress.models import Recording, RecordingLeave
from progress.services import measuring, recording_files
from progress.services import recordings as orders
from routines.forms.begin import begin_with
from studio import limits
from studio.models import AuditLine, Tries
from studio.services.erase import erase
from studio.words import AuditKind, GrantState, Role
from tests import makers
from tests.progress import recording_makers as sounds

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def empty_folder():
    sounds.no_files()


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    student = makers.a_student(makers.studio_of(teacher))
    makers.a_block(student)
    return student


@pytest.fixture
def phone(nor):
    return makers.a_phone(makers.a_grant(nor))


def rows() -> list[Any]:
    with scopes_disabled():
        return list(Recording.objects.order_by("pk"))


def test_it_is_off_until_a_teacher_switches_it_on(nor, phone):
    page = f"/practice/{nor.public_id}/recording"
    assert phone.get(page).status_code == 404
    assert sounds.send(phone, nor, sounds.wav()).status_code == 404

    sounds.leave(nor)

    assert phone.get(page).status_code == 200
    assert page in phone.get(f"/practice/{nor.public_id}").content.decode()


def test_who_said_that_something_hurt_reads_here_too_to_ask_first(nor, phone):
    sounds.leave(nor)
    page, words = f"/practice/{nor.public_id}/recording", "Talk to your teacher before you play."
    assert words not in phone.get(page).content.decode()

    makers.a_discomfort(nor)

    assert words in phone.get(page).content.decode()


def test_a_child_needs_a_parents_yes_with_its_day_and_how(nor, teacher):
    browser, page = makers.signed_in(teacher), f"/students/{nor.public_id}/recordings"

    refused = browser.post(page, {"is_on": "on", "keep_days": "30"})
    taken = browser.post(
        page,
        {"is_on": "on", "keep_days": "30", "agreed_on": "2026-02-01", "agreed_how": "by phone"},
    )

    assert refused.status_code == 422
    assert "A child needs a parent’s yes" in refused.content.decode()
    assert taken.status_code == 302
    with scopes_disabled():
        kept = RecordingLeave.objects.get()
        assert (kept.is_on, kept.agreed_on, kept.keep_days) == (True, date(2026, 2, 1), 30)
        assert AuditLine.objects.filter(kind=AuditKind.RECORDINGS).count() == 1


def test_a_grown_up_needs_nobodys_yes(teacher):
    kim = makers.a_student(makers.studio_of(teacher), child=False)

    answer = makers.signed_in(teacher).post(
        f"/students/{kim.public_id}/recordings", {"is_on": "on", "keep_days": "60"}
    )

    assert answer.status_code == 302


def test_only_the_recording_page_may_use_the_microphone_and_play_a_blob(nor, phone):
    sounds.leave(nor)
    here = phone.get(f"/practice/{nor.public_id}/recording")
    elsewhere = phone.get(f"/practice/{nor.public_id}")

    assert "microphone=(self)" in here["Permissions-Policy"]
    assert "media-src 'self' blob:" in here["Content-Security-Policy"]
    assert "microphone=()" in elsewhere["Permissions-Policy"]
    assert "blob:" not in elsewhere["Content-Security-Policy"]


def test_what_is_sent_waits_then_is_measured_and_written_anew(nor, phone):
    sounds.leave(nor, keep_days=30)
    content = sounds.wav()

    answer = sounds.send(phone, nor, content, notes="2")

    assert answer.status_code == 201
    assert "Your teachers can hear it until" in answer.json()["words"]
    row = rows()[0]
    assert (row.state, row.size) == ("waiting", len(content))
    assert row.kept_until == row.day + timedelta(days=30)
    assert row.asked["expected"][0] - row.asked["expected"][1] == 1
    assert sounds.files() == [f"{row.file}.upload"]
    assert measuring.measure_waiting() == {"measured": 1, "refused": 0}
    row = rows()[0]
    assert [note["midi_heard"] for note in row.figures["notes"]] == [58, 58]
    assert "processed" not in row.figures["warnings"]
    assert sounds.files() == [f"{row.file}.flac"]
    path = recording_files.path_of(row.file, ".flac")
    assert soundfile.info(path).format == "FLAC"
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("answer", ["on", "unknown"])
def test_where_the_browser_changed_the_sound_level_is_left_blank(nor, phone, answer):
    sounds.leave(nor)
    sounds.send(phone, nor, sounds.wav(), autoGainControl=answer)

    measuring.measure_waiting()

    figures = rows()[0].figures
    assert "processed" in figures["warnings"]
    assert figures["notes"][0]["level_drift"] is None
    assert figures["notes"][0]["cents"] is not None


def test_the_same_sent_twice_is_one(nor, phone):
    sounds.leave(nor)
    key = uuid4().hex

    answers = [sounds.send(phone, nor, sounds.wav(), key=key).status_code for _ in range(2)]

    assert answers == [201, 201]
    assert len(rows()) == len(sounds.files()) == 1


def zipped() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("clip.wav", sounds.wav())
    return file.getvalue()


def an_hour_of_silence() -> bytes:
    file = io.BytesIO()
    with soundfile.SoundFile(file, "w", 8_000, 1, format="FLAC") as written:
        for _ in range(60):
            written.write(np.zeros(60 * 8_000, np.int16))
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "status"),
    [
        (b"", 422),
        (b"<html>not a sound</html>", 422),
        (zipped, 422),
        (an_hour_of_silence, 422),
        (b"RIFF\x00\x00\x00\x00WAVE" + bytes(5_000_000), 413),
    ],
    ids=["nothing", "a page", "a zip", "an hour of silence", "too large"],
)
def test_what_is_no_recording_is_refused_at_the_door(nor, phone, content, status):
    sounds.leave(nor)

    answer = sounds.send(phone, nor, content() if callable(content) else content)

    assert answer.status_code == status
    assert answer.json()["words"]
    assert rows() == []
    assert sounds.files() == []


def test_a_body_that_is_announced_as_too_large_is_not_read_at_all(nor, phone, monkeypatch):
    sounds.leave(nor)
    monkeypatch.setattr(WSGIRequest, "read", lambda *_: pytest.fail("it was read"))

    answer = sounds.send(phone, nor, b"RIFF\x00\x00\x00\x00WAVE" + bytes(5_000_000))

    assert answer.status_code == 413


def test_a_phone_sends_so_many_an_hour_and_no_more(nor, phone):
    sounds.leave(nor)
    for _ in range(limits.RECORDING_BY_PHONE.tries):
        assert sounds.send(phone, nor, b"no sound").status_code == 422

    assert sounds.send(phone, nor, b"no sound").status_code == 429


def test_where_there_are_too_many_the_student_throws_one_away_first(nor, phone, monkeypatch):
    sounds.leave(nor)
    monkeypatch.setattr(orders, "MOST_KEPT", 2)
    rows_before = [sounds.a_recording(nor) for _ in range(2)]

    refused = sounds.send(phone, nor, sounds.wav())
    assert refused.status_code == 422
    assert "Your teacher has 2 of yours. Throw one away first." in refused.json()["words"]
    phone.post(f"/practice/{nor.public_id}/recording/{rows_before[0].public_id}/throw-away")

    assert sounds.send(phone, nor, sounds.wav()).status_code == 201


def test_no_more_is_written_than_may_be_sent_whatever_was_announced():
    with pytest.raises(RecordingError, match="More than 5 MB"):
        recording_files.write_sent("a" * 32, (bytes(1_000_000) for _ in range(9)))

    assert sounds.files() == []


def test_a_head_that_lies_is_refused_in_words_and_its_file_goes(nor, phone, teacher):
    sounds.leave(nor)
    sounds.send(phone, nor, sounds.lying_wav())

    assert measuring.measure_waiting() == {"measured": 0, "refused": 1}

    row = rows()[0]
    page = makers.signed_in(teacher).get(f"/recordings/{row.public_id}").content.decode()
    assert "4000000 samples a second" in page
    assert (row.file, sounds.files()) == ("", [])


@pytest.mark.battery(only=True)
def test_three_hundred_mutated_uploads_are_refused_or_measured(nor, phone, figures, settings):
    sounds.leave(nor)
    rng = np.random.default_rng(300)
    content = sounds.wav(sounds.clip(notes=1, lead=1.0, hold=1.5))
    counts: dict[str, int] = {}
    for _ in range(300):
        made = bytearray(content)
        for _ in range(int(rng.integers(1, 12))):
            reach = 64 if rng.random() < 0.6 else len(made)
            made[int(rng.integers(0, reach))] = int(rng.integers(0, 256))
        with scopes_disabled():
            Recording.objects.all().delete()
        Tries.objects.all().delete()
        status = sounds.send(phone, nor, bytes(made)).status_code
        done = measuring.measure_waiting()
        how = str(status) if status != 201 else "measured" if done["measured"] else "refused"
        counts[how] = counts.get(how, 0) + 1

    figures.append(f"mutated uploads, seed 300: 300 cases, {counts}, 0 failures")
    assert set(counts) <= {"422", "measured", "refused"}
    assert sum(counts.values()) == 300


def test_a_phone_that_is_not_confirmed_may_not_record(nor):
    sounds.leave(nor)
    phone = makers.a_phone(makers.a_grant(nor, state=GrantState.PROVISIONAL))

    assert phone.get(f"/practice/{nor.public_id}/recording").status_code == 404
    assert sounds.send(phone, nor, sounds.wav()).status_code == 404


def test_the_sound_is_for_the_studios_teachers_alone(nor, phone, teacher):
    row = sounds.a_recording(nor)
    address = f"/recordings/{row.public_id}/sound"
    stranger = makers.signed_in(makers.a_teacher())
    cover = makers.signed_in(makers.a_teacher(nor.studio, role=Role.COVER))

    assert makers.signed_in(teacher).get(address).content == b"sound"
    assert cover.get(address).status_code == 200
    assert cover.post(f"/recordings/{row.public_id}/keep").status_code == 403
    assert stranger.get(address).status_code == 404
    assert stranger.get(f"/recordings/{row.public_id}").status_code == 404
    assert stranger.post(f"/recordings/{row.public_id}/delete").status_code == 404
    assert phone.get(address).status_code == 302
    assert Client().get(address).status_code == 302


def test_a_player_may_ask_for_a_part(nor, teacher):
    row, browser = sounds.a_recording(nor, sound=b"0123456789"), makers.signed_in(teacher)
    address = f"/recordings/{row.public_id}/sound"

    parts = [
        browser.get(address, headers={"Range": asked}) for asked in ("bytes=2-4", "bytes=-3", "x")
    ]

    assert [(part.status_code, part.content) for part in parts] == [
        (206, b"234"),
        (206, b"789"),
        (200, b"0123456789"),
    ]
    assert parts[0]["Content-Range"] == "bytes 2-4/10"


def test_a_copy_taken_along_is_asked_for_and_stands_in_the_record(nor, teacher):
    row = sounds.a_recording(nor)

    answer = makers.signed_in(teacher).post(f"/recordings/{row.public_id}/keep")

    assert answer["Content-Disposition"].startswith("attachment")
    with scopes_disabled():
        assert AuditLine.objects.get().kind == AuditKind.HEARD_TAKEN


def test_after_its_date_the_sound_is_gone_and_the_figures_stay(nor, teacher):
    yesterday = makers.today(nor.studio) - timedelta(days=1)
    row = sounds.a_recording(nor, kept_until=yesterday)
    browser, out = makers.signed_in(teacher), StringIO()
    # Also before the timer has come round.
    assert browser.get(f"/recordings/{row.public_id}/sound").status_code == 404

    row.kept_until = yesterday - timedelta(days=2)
    with scopes_disabled():
        row.save()
    call_command("delete_old_recordings", stdout=out)

    assert json.loads(out.getvalue()) == {"sounds": 1, "orphans": 0}
    assert sounds.files() == []
    assert (rows()[0].file, rows()[0].state) == ("", "measured")
    assert "3" in browser.get(f"/recordings/{row.public_id}").content.decode()
    call_command("delete_old_recordings", stdout=StringIO())


def test_the_last_day_is_a_whole_day(nor, teacher):
    row = sounds.a_recording(nor, kept_until=makers.today(nor.studio))

    call_command("delete_old_recordings", stdout=StringIO())

    answer = makers.signed_in(teacher).get(f"/recordings/{row.public_id}/sound")
    assert answer.status_code == 200


def test_files_of_no_row_go_after_a_day(nor):
    kept, young = sounds.a_recording(nor), recording_files.path_of("b" * 32, ".upload")
    old = recording_files.path_of("a" * 32, ".flac")
    for path in (young, old, recording_files.path_of(kept.file, ".flac")):
        path.write_bytes(b"x")
        if path != young:
            os.utime(path, (time.time() - 100_000,) * 2)

    call_command("delete_old_recordings", stdout=StringIO())

    assert sounds.files() == sorted([f"{kept.file}.flac", young.name])


def test_a_student_takes_back_what_was_sent(nor, phone):
    row = sounds.a_recording(nor)
    sam = makers.a_student(nor.studio, name="Sam")
    other = makers.a_phone(makers.a_grant(sam))
    address = f"/practice/{nor.public_id}/recording/{row.public_id}/throw-away"

    assert other.post(address).status_code == 404
    # Nor is Sam's neighbour on the list: Sam's own door does not lead to Nor's recording either.
    assert other.post(address.replace(nor.public_id, sam.public_id)).status_code == 404
    assert phone.post(address).status_code == 302
    assert rows() == []


def test_asking_with_a_block_stands_on_todays_page_until_one_is_sent(nor, phone, teacher):
    sounds.leave(nor)
    today, asks = f"/practice/{nor.public_id}", "Your teacher asks to hear a few notes."
    assert asks not in phone.get(today).content.decode()

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/recordings/ask")
    assert asks in phone.get(today).content.decode()
    sounds.send(phone, nor, sounds.wav())

    assert asks not in phone.get(today).content.decode()


def test_blocks_assigned_together_ask_those_who_may_record(nor, teacher):
    sounds.leave(nor)
    sam, luz = (makers.a_student(nor.studio, name=name) for name in ("Sam", "Luz"))
    switched_off = sounds.leave(luz, is_on=False)
    batch = "b" * 16
    first_day = makers.today(nor.studio) + timedelta(days=60)
    for student in (nor, sam, luz):
        makers.a_block(student, batch=batch, first_day=first_day)

    answer = makers.signed_in(teacher).post(f"/assigned/{batch}/recordings", follow=True)

    assert "Asked 1 student." in answer.content.decode()
    makers.signed_in(teacher).post(f"/students/{luz.public_id}/recordings/ask")
    with scopes_disabled():
        switched_off.refresh_from_db()
        assert switched_off.asked_for is None


def block_form(*students, **said) -> dict[str, Any]:
    """What the builder sends for a block of these students, long after the one that runs."""
    first_day = makers.today(students[0].studio) + timedelta(days=70)
    begun = begin_with(makers.a_plan(students[0]), first_day=first_day)
    return begun | {"students": [row.public_id for row in students]} | said


def test_while_assigning_those_who_may_record_are_asked(nor, teacher):
    browser, sam = makers.signed_in(teacher), makers.a_student(nor.studio, name="Sam")
    words = "Ask for a recording of a few notes"
    assert words not in browser.get("/blocks/assign").content.decode()
    leave = sounds.leave(nor)
    assert words in browser.get("/blocks/assign").content.decode()

    answer = browser.post("/blocks/assign", block_form(nor, sam, recording="on"), follow=True)

    page = answer.content.decode()
    assert "Assigned to 2." in page, page
    assert "Asked 1 student for a recording." in page
    with scopes_disabled():
        leave.refresh_from_db()
        assert leave.asked_for == nor.block_set.order_by("first_day").last()


def test_while_assigning_to_nobody_who_may_record_it_is_said(nor, teacher):
    answer = makers.signed_in(teacher).post(
        "/blocks/assign", block_form(nor, recording="on"), follow=True
    )

    assert "Nobody of them may record" in answer.content.decode()


def test_without_the_tick_nobody_is_asked(nor, teacher):
    leave = sounds.leave(nor)

    page = (
        makers.signed_in(teacher)
        .post("/blocks/assign", block_form(nor), follow=True)
        .content.decode()
    )

    assert "Assigned to 1." in page
    assert "recording." not in page
    with scopes_disabled():
        leave.refresh_from_db()
        assert leave.asked_for is None


def test_without_the_sound_libraries_pages_say_so_and_nothing_is_taken(
    nor, phone, teacher, monkeypatch
):
    sounds.leave(nor)
    monkeypatch.setattr(measuring, "NEEDED", ("no_such_library",))

    assert sounds.send(phone, nor, sounds.wav()).status_code == 422
    page = phone.get(f"/practice/{nor.public_id}/recording").content.decode()
    assert "Your studio can not take recordings yet" in page
    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}/recordings")
    assert "requirements-recordings.txt" in page.content.decode()
    with pytest.raises(CommandError, match="requirements-recordings"):
        call_command("measure_recordings")


def test_what_made_several_processes_die_is_refused(nor):
    row = sounds.a_recording(nor, state="waiting", figures=None, curves=None, sound=sounds.wav())
    long_ago = timezone.now() - timedelta(hours=1)
    with scopes_disabled():
        Recording.objects.update(state="measuring", taken_at=long_ago, tries=measuring.MOST_TRIES)

    assert measuring.measure_waiting() == {"measured": 0, "refused": 1}
    assert rows()[0].refusal.startswith("it could not be measured")
    assert row.file + ".upload" not in sounds.files()


def test_what_a_dead_process_left_waits_again_after_a_while(nor):
    sounds.a_recording(nor, state="waiting", figures=None)
    now = timezone.now()
    with scopes_disabled():
        assert measuring.take(now) is not None
        assert measuring.take(now + timedelta(seconds=30)) is None
        assert measuring.take(now + measuring.DEAD_AFTER + timedelta(seconds=1)) is not None


def test_what_a_dead_process_left_is_taken_by_one_of_two_that_saw_it(nor, monkeypatch):
    """The second has read the row before the first took it over, and asks for it after that."""
    row = sounds.a_recording(nor, state="waiting", figures=None)
    now = timezone.now()
    with scopes_disabled():
        Recording.objects.update(state="measuring", taken_at=now - timedelta(hours=1), tries=1)
        found = Recording.objects.filter(pk=row.pk)[:1]
        assert len(found) == 1
        rows_seen = lambda *_args, **_more: SimpleNamespace(order_by=lambda *_: found)  # noqa: E731
        assert measuring.take(now) is not None
        update = Recording.objects.filter
        monkeypatch.setattr(
            Recording.objects,
            "filter",
            lambda *args, **more: (rows_seen if args else update)(*args, **more),
        )

        assert measuring.take(now) is None


def test_a_process_that_was_given_up_says_nothing_of_what_another_took_over(nor):
    sounds.a_recording(nor, state="waiting", figures=None, curves=None, sound=b"no sound")
    now = timezone.now()
    with scopes_disabled():
        late = measuring.take(now)
        later = measuring.take(now + measuring.DEAD_AFTER + timedelta(seconds=1))
        assert late is not None
        assert later is not None

        measuring.measure(late)

    kept = rows()[0]
    assert (kept.state, kept.refusal, kept.taken_at) == ("measuring", "", later.taken_at)
    assert sounds.files() == [f"{kept.file}.upload"]


@pytest.mark.django_db(transaction=True)
def test_two_processes_never_take_the_same_recording(nor):
    for _ in range(12):
        sounds.a_recording(nor, state="waiting", figures=None)
    start = Barrier(4)

    def takes(_number):
        found = []
        try:
            with scopes_disabled():
                start.wait(timeout=10)
                while (row := measuring.take(timezone.now())) is not None:
                    found.append(row.pk)
        finally:
            connection.close()
        return found

    with ThreadPoolExecutor(4) as several:
        taken = [pk for found in several.map(takes, range(4)) for pk in found]

    assert sorted(taken) == sorted(row.pk for row in rows())


@pytest.mark.django_db(transaction=True)
def test_with_the_student_the_sound_is_erased(nor, teacher):
    sounds.a_recording(nor)
    other = sounds.a_recording(makers.a_student(nor.studio, name="Sam"))
    assert len(sounds.files()) == 2

    with scope(studio=nor.studio):
        erase(nor, by=teacher, moment=timezone.now())

    assert [row.pk for row in rows()] == [other.pk]
    assert sounds.files() == [f"{other.file}.flac"]


def test_one_stands_beside_an_earlier_one_with_curves_and_words(nor, teacher):
    earlier = sounds.a_recording(
        nor,
        received_at=timezone.now() - timedelta(days=9),
        figures=sounds.figures(cents=-12.4, scoop=False),
    )
    row = sounds.a_recording(nor)

    page = makers.signed_in(teacher).get(f"/recordings/{row.public_id}?beside={earlier.public_id}")

    text = page.content.decode()
    for words in (
        "within 5 cents: centred",
        "12 cents low",
        "7.9 of 8 counts",
        "from 20 cents below",
        "fades by 2.4 dB",
        "Very quiet: the phone was far away.",
    ):
        assert words in text, words
    # The blank in the middle cuts the line of pitch in two; level is one line.
    assert text.count("<polyline") == 2 * 3
