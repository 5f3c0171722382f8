"""A studio of two years is put back, and every page of the teacher's is what it was.

Sixty students and 24 months are the most that this program is made for.
"""

import re
import time
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from django.test import Client
from django_scopes import scopes_disabled

from studio.models import Student
from studio.services import backups, standing
from studio.services.erase import erase
from tests import makers
from tests.progress.test_overview_at_size import fill

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.battery]
NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
ERASED = "Thistlewick"
SMALL, FULL = (3, 2), (60, 24)
# What is new in every answer, and says nothing of the studio.
NEW_EACH_TIME = re.compile(
    rb'(name="(?:csrfmiddlewaretoken|key|batch)" value=|X-CSRFToken": )"[^"]+'
)
A_LINK = re.compile(rb'href="(/[^"#]*)')


@pytest.fixture(autouse=True)
def kept(settings, tmp_path) -> Iterator[None]:
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    settings.BACKUPS = settings.VAR_DIR / "backups"
    with time_machine.travel(NOW, tick=False):
        yield
    standing.note().unlink(missing_ok=True)
    file = standing.file_of_database()
    for aside in file.parent.glob(f"{file.name}.before-*") if file else ():
        aside.unlink()


def pages(browser: Client, most: int) -> dict[str, bytes]:
    """Read every page that a teacher comes to by links, prints and downloads too."""
    found: dict[str, bytes] = {}
    waiting = ["/overview"]
    while waiting and len(found) < most:
        path = waiting.pop(0)
        answer = browser.get(path.replace("&amp;", "&"))
        content = b"".join(answer) if answer.streaming else answer.content
        found[path] = b"%d " % answer.status_code + NEW_EACH_TIME.sub(b"", content)
        for link in dict.fromkeys(A_LINK.findall(content)):
            address = link.decode()
            if address not in found and address not in waiting and "/static/" not in address:
                waiting.append(address)
    return found


def every_byte() -> bytes:
    """All that the database holds: the file itself, or every table where a server keeps it."""
    if file := standing.file_of_database():
        return file.read_bytes()
    copy = backups.make(settings.BACKUPS, moment=NOW + timedelta(days=1), say=lambda _: None)
    with zipfile.ZipFile(copy) as archive:
        return b"".join(archive.read(name) for name in archive.namelist())


def test_every_page_of_two_years_comes_back_but_for_the_student_who_was_erased(is_battery, figures):
    students, months = FULL if is_battery else SMALL
    runa = makers.a_teacher()
    studio = makers.studio_of(runa)
    with scopes_disabled():
        check_ins = fill(studio, students, months)
        child = Student.objects.order_by("pk")[students // 2]
        Student.objects.filter(pk=child.pk).update(name=ERASED)
        child.refresh_from_db()
    backup = backups.make(settings.BACKUPS, moment=NOW - timedelta(days=1), say=lambda _: None)
    erase(child, by=None, moment=NOW)
    most = 3000 if is_battery else 50
    before = pages(makers.signed_in(runa), most)

    began = time.perf_counter()
    done = backups.restore(backup, replace=True, moment=NOW, say=lambda _: None)
    seconds = time.perf_counter() - began

    after = pages(makers.signed_in(runa), most)
    differing = [path for path in before if before[path] != after.get(path)]
    assert differing == []
    assert set(after) == set(before)
    assert done.caught_up.erased == 1
    assert all(ERASED.encode() not in page for page in after.values())
    kept = every_byte()
    for trace in (ERASED, child.public_id):
        assert trace.encode() not in kept
    figures.append(
        f"restored on {connection.vendor}: {students} students, {months} months, "
        f"{check_ins} check-ins, {seconds:.1f} s; {len(before)} pages equal byte for byte; "
        "the erased student's name and id nowhere"
    )
