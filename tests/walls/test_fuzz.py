"""Nothing that anybody sends is answered with a fault of ours: no 500, on either database."""

import sys
import traceback
from io import BytesIO
from random import Random
from time import monotonic
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.core.signals import got_request_exception
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from studio.models import AuditLine
from studio.words import AuditKind
from tests import makers
from tests.roles import addresses
from tests.test_roles import WORDS, a_world
from tests.walls import odd
from tests.walls.test_canaries import asked_names
from tests.walls.two_studios import Forms, a_browser

pytestmark = pytest.mark.django_db

REQUESTS, ALL_REQUESTS = 200, 5_000
FORM = "application/x-www-form-urlencoded"
MISSING = ["0123456789abcdef", "0", "-", "_", "9" * 300, "x" * 16]


class Faults:
    """Collects what went wrong inside, by where it did."""

    def __init__(self):
        self.seen = {}

    def __call__(self, request, **_others):
        error = sys.exc_info()[1]
        assert error is not None
        place = [at for at in traceback.extract_tb(error.__traceback__) if "site-pack" not in at[0]]
        at = place[-1] if place else traceback.extract_tb(error.__traceback__)[-1]
        what = f"{type(error).__name__} at {at.filename.rpartition('/')[2]}:{at.lineno}"
        self.seen.setdefault(
            what, (request.method, request.get_full_path()[:200], str(error)[:200])
        )


@pytest.fixture
def faults():
    found = Faults()
    got_request_exception.connect(found)
    yield found
    got_request_exception.disconnect(found)


def encoded(pairs):
    return urlencode(pairs, errors="surrogatepass")


def a_path(one, world, draw):
    """An address with a name that is there, one that is not, or none at all of this site."""
    if draw.random() < 0.05:
        return draw.choice(odd.PATHS)
    given = dict(world.objects)
    if draw.random() < 0.2:
        given |= {name: draw.choice(MISSING) for name in given if name not in WORDS}
    return one.path(given)


def a_body(path, forms, names, draw):
    """What a page would send with some of it spoilt, or something that no page would send."""
    if draw.random() < 0.02:
        return odd.TOO_LARGE
    if draw.random() < 0.15:
        return draw.choice(odd.BODIES)
    fields = list(forms.get(path.partition("?")[0], {}).items())
    spoilt = [
        (name, draw.choice(odd.EVERY) if draw.random() < 0.25 else value) for name, value in fields
    ]
    spoilt += [(draw.choice(names), draw.choice(odd.EVERY)) for _ in range(draw.choice((0, 1, 4)))]
    if spoilt and draw.random() < 0.2:
        spoilt.append((spoilt[0][0], draw.choice(odd.EVERY)))
    if spoilt and draw.random() < 0.2:
        spoilt.pop(draw.randrange(len(spoilt)))
    return encoded(spoilt).encode()


def forms_of(world):
    """The forms on every page, by the path that they send to."""
    found: dict[str, dict[str, str]] = {}
    owner, phone, parent = (world.browsers[role] for role in ("owner", "student", "parent"))
    nobody = world.browsers["anonymous"]
    for one in addresses():
        path = one.path(world.objects)
        for client in {"/practice": [phone], "/parent": [parent]}.get(
            path[: path.find("/", 1)] if path.count("/") > 1 else path, [owner, nobody]
        ):
            page = client.get(path).content.decode(errors="replace")
            for to, fields in Forms(page).found:
                found.setdefault(to.partition("#")[0].partition("?")[0] or path, fields)
            if client is owner and "<form" in page:
                break
    return found


def sent(client, method, path, body, query="", *, headers=None, content_type=FORM):
    with transaction.atomic():
        answer = client.generic(
            method, path, body, content_type=content_type, headers=headers, QUERY_STRING=query
        )  # fmt: skip
        transaction.set_rollback(True)
    return answer


@pytest.mark.battery
def test_no_request_is_answered_with_a_fault(is_battery, seed, figures, faults):
    world, draw = a_world(), Random(seed)  # noqa: S311 - the same from the same seed
    forms, names, every = forms_of(world), asked_names(), addresses()
    given: dict[int, int] = {}
    broken, slowest = [], (0.0, "")

    for _ in range(ALL_REQUESTS if is_battery else REQUESTS):
        one, role = draw.choice(every), draw.choice(sorted(world.cookies))
        client = a_browser(world.cookies[role])
        path, method = a_path(one, world, draw), draw.choice(odd.METHODS)
        pairs = [(draw.choice(names), draw.choice(odd.EVERY)) for _ in range(draw.choice((0, 2)))]
        body = a_body(path, forms, names, draw) if method not in {"GET", "HEAD", "get"} else b""
        query = encoded(pairs) if draw.random() < 0.9 else "a=%ED%A0%80&%00=%ff&=&&x[]=1"
        began = monotonic()
        answer = sent(
            client,
            method,
            path,
            body,
            query,
            headers=draw.choice(odd.HEADERS),
            content_type=draw.choice(odd.CONTENT_TYPES),
        )
        slowest = max(slowest, (monotonic() - began, f"{method} {one.name}"))
        given[answer.status_code] = given.get(answer.status_code, 0) + 1
        if answer.status_code >= 500:
            broken.append((role, method, path[:80], query[:80], body[:200]))

    figures.append(
        f"fuzz: seed {seed}, {sum(given.values())} requests on {connection.vendor}, {given}, "
        f"{len(broken)} faults, the slowest took {slowest[0]:.1f} s ({slowest[1]})"
    )
    assert faults.seen == {}
    assert broken == []


def one_field_at_a_time(world, forms):
    """Every field of every form with every odd value, the rest as the page would send it."""
    for path, fields in sorted(forms.items()):
        for name in sorted(fields):
            for value in odd.EVERY:
                yield path, [*((n, v) for n, v in fields.items() if n != name), (name, value)]


@pytest.mark.battery
def test_no_field_of_any_form_takes_what_breaks_it(is_battery, seed, figures, faults):
    world, draw = a_world(), Random(seed)  # noqa: S311 - the same from the same seed
    every = list(one_field_at_a_time(world, forms_of(world)))
    asked = draw.sample(every, min(len(every), ALL_REQUESTS if is_battery else REQUESTS // 2))
    given: dict[int, int] = {}

    for path, pairs in asked:
        role = "student" if path.startswith(("/practice", "/pair")) else "owner"
        client = a_browser(world.cookies[role])
        answer = sent(client, "POST", path, encoded(pairs).encode())
        given[answer.status_code] = given.get(answer.status_code, 0) + 1

    figures.append(
        f"odd fields: seed {seed}, {len(asked)} of {len(every)} on {connection.vendor}, {given}"
    )
    assert faults.seen == {}
    assert max(given) < 500


def test_a_fault_would_be_seen(faults, monkeypatch):
    monkeypatch.setattr("studio.views.front.hearing.table", None)

    answer = Client(raise_request_exception=False).get(reverse("studio:help_hearing"))

    assert answer.status_code == 500
    assert len(faults.seen) == 1


def test_every_kind_of_line_in_the_record_fits_its_column():
    # SQLite would take a longer word; PostgreSQL refuses it.
    longest = AuditLine._meta.get_field("kind").max_length
    assert longest is not None

    assert [kind for kind in AuditKind if len(kind) > longest] == []


def test_a_day_of_percent_signs_is_said_back_and_is_no_fault():
    world = a_world()
    path = reverse("progress:check_in", args=[world.objects["student_id"]])

    answer = a_browser(world.cookies["student"]).post(path, makers.the_answers(day="%s%n%(x)d"))

    assert answer.status_code == 422
    assert "%s%n%(x)d cannot be filled in" in answer.content.decode()


@pytest.mark.parametrize("path", ["/pair", "/students/list"])
def test_a_form_with_a_file_that_is_too_large_is_answered_before_it_is_read(path):
    client = makers.signed_in(makers.a_teacher())
    sent = BytesIO(b"name,instrument\n" + b"Nor,horn\n" * 200_000)
    sent.name = "students.csv"

    answer = client.post(path, {"file": sent})

    assert answer.status_code == 413
    assert "larger than this site takes" in answer.content.decode()


def test_a_file_of_a_form_lies_in_memory_and_on_no_disk():
    assert settings.FILE_UPLOAD_HANDLERS == ["studio.uploads.SmallFormsAlone"]
    assert settings.FILE_UPLOAD_MAX_MEMORY_SIZE >= settings.DATA_UPLOAD_MAX_MEMORY_SIZE


@pytest.mark.parametrize("given", ["9" * 5000, "9" * 30, "\u0663", "-1", "", "others"])
def test_a_sign_in_of_any_number_is_ended_or_is_not_there(given):
    client = makers.signed_in(makers.a_teacher(), raise_request_exception=False)

    assert client.post(reverse("studio:end_sign_in"), {"session": given}).status_code == 302
