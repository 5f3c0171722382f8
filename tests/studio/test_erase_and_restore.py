"""A child is erased in the browser, an older backup is put back, and nothing of them is there.

The European data-protection regulation (Regulation (EU) 2016/679, article 17) speaks of erasure
without undue delay; that it must survive a restore is our own reading.
"""

import random
import zipfile
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings as site
from django.db import connection
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.exports.everything import studio_text
from progress.services import recording_files
from studio.models import Studio
from studio.services import backups, standing
from studio.words import Role
from tests import makers
from tests.progress import recording_makers
from tests.studio.test_erase import everything

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
SYLLABLES = ("quil", "thi", "wick", "mor", "vex", "ål", "zoë", "pip", "gran", "üll")

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("kept")]


def say(_words: str) -> None:
    """Nobody listens in a test."""


def a_child(studio: Studio, name: str) -> Any:
    """Make a student whose name stands in every place that can hold it."""
    child = makers.a_student(studio, name=name, group=f"{name}’s group", consent_how=f"{name} said")
    block = makers.a_block(child, message=f"Well done, {name}")
    makers.a_check_in(child, block=block, words=f"{name} was here")
    makers.an_interruption(child, note=f"{name} is away")
    makers.a_discomfort(child)
    makers.a_grant(child)
    makers.an_offer(child, token=f"token of {name}")
    makers.a_decision(block)
    recording_makers.a_recording(child, sound=f"{name} plays".encode())
    return child


def traces(name: str, public_id: str) -> list[str]:
    """Say where a name or an id still is: rows, bytes, files, copies, a new backup."""
    with scopes_disabled():
        copies = "".join("".join(studio_text(one, NOW)) for one in Studio.objects.all())
    file = standing.file_of_database()
    places: dict[str, bytes] = {
        "rows": everything().encode(),
        "copy of the studio": copies.encode(),
        "bytes of the database": file.read_bytes() if file else b"",
    }
    places |= {f"recording {p.name}": p.read_bytes() for p in recording_files.folder().iterdir()}
    new = backups.make(site.VAR_DIR / "new", moment=timezone.now(), say=say)
    with zipfile.ZipFile(new) as archive:
        places |= {f"a new backup's {part}": archive.read(part) for part in archive.namelist()}
    new.unlink()
    wanted = [name.encode(), name.encode().hex().encode(), public_id.encode()]
    return [where for where, content in places.items() if any(one in content for one in wanted)]


def erase_in_the_browser(owner: Any, child: Any) -> int:
    browser = makers.signed_in(owner)
    browser.post(reverse("account_reauthenticate"), {"password": makers.PASSWORD})
    address = reverse("studio:erase_student", args=[child.public_id])
    return int(browser.post(address, {"name": child.name}).status_code)


@pytest.mark.battery
def test_nothing_of_an_erased_child_is_left_nor_comes_back(is_battery, seed, figures):
    cases = 20 if is_battery else 1
    draw = random.Random(seed)  # noqa: S311 - invented names
    owner = makers.a_teacher(role=Role.OWNER)
    studio = makers.studio_of(owner)
    makers.a_check_in(makers.a_student(studio, name="Nor"), words="stays")

    for number in range(cases):
        name = "".join(draw.choices(SYLLABLES, k=4)).capitalize()
        child = a_child(studio, name)
        old = backups.make(site.BACKUPS, moment=NOW + timedelta(minutes=number), say=say)
        assert {"rows", "copy of the studio"} <= set(traces(name, child.public_id))

        assert erase_in_the_browser(owner, child) == 302
        assert (number, traces(name, child.public_id)) == (number, [])

        done = backups.restore(old, replace=True, moment=timezone.now(), say=say)
        assert done.caught_up.erased == 1
        assert (number, traces(name, child.public_id)) == (number, [])
        assert "stays" in everything()
        if done.aside is not None:
            done.aside.unlink()
    figures.append(
        f"children erased and an older backup put back on {connection.vendor}: seed {seed}, "
        f"{cases} cases, 0 traces"
    )
