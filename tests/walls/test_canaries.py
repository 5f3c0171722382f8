"""Nobody of one studio reads a word of another, whatever they ask for (ASVS 5.0.0, V8.2.2, V8.4.1).

The people of studio A go to every address, with every name and number of studio B in the path, the
query and the body. B's every word is a canary.
"""

import re
from itertools import product
from pathlib import Path
from random import Random

import pytest
from django.db import connection, transaction
from django.urls import reverse

from studio import crossings
from studio.models import Student
from tests import tree
from tests.roles import addresses
from tests.test_roles import WORDS
from tests.walls import two_studios
from tests.walls.two_studios import CANARY, VOCABULARY, Forms

pytestmark = pytest.mark.django_db

NAMES = re.compile(r"(?:GET|POST)\.get(?:list)?\(\"(\w+)\"|^    (\w+) = forms\.", re.MULTILINE)
PLAIN = {"kind": "sent", "answer": "confirm", "reason": "no-time", "whose": "mine", "token": "x"}
# A page that is open when the sign-in ends is told so in a part of itself, whatever it was of.
SIGNED_OUT = 'id="signed-out"'
ANSWERS, ALL_ANSWERS = 200, 5_000


@pytest.fixture
def studios():
    mine, theirs = (two_studios.a_whole_studio(name) for name in ("Alder", "Birch"))
    two_studios.fill_with_canaries(theirs)
    return mine, theirs


def asked_names():
    """Name everything that some view or form reads from a query or a body."""
    paths = tree.files("studio", "routines", "progress", suffix=".py")
    texts = [Path(path).read_text() for path in paths]
    return sorted({a or b for text in texts for a, b in NAMES.findall(text)})


def plans(mine, theirs):
    """Every address by each visitor, with the ids of A and of B in its path, read and sent."""
    for one in addresses():
        kinds = [name for name in one.asks if name not in WORDS and name != "token"]
        for which in product((mine, theirs), repeat=len(kinds)):
            given = dict(zip(kinds, which, strict=True))
            path = reverse(
                one.name, kwargs={name: given[name].objects[name] if name in given else PLAIN[name]
                                  for name in one.asks},
            )  # fmt: skip
            for who, method in product(mine.cookies, ("GET", "POST")):
                yield one.name, path, theirs in which, who, method


def untouched(mine):
    """What A's own forms would send, by the path that they send to."""
    owner = browser(mine, "owner")
    found: dict[str, dict[str, str]] = {}
    for one in addresses():
        if not set(one.asks) - set(mine.objects) - set(PLAIN):
            path = reverse(one.name, kwargs={n: (mine.objects | PLAIN)[n] for n in one.asks})
            with transaction.atomic():
                for to, fields in Forms(owner.get(path).content.decode(errors="replace")).found:
                    found.setdefault(to.partition("#")[0].partition("?")[0] or path, fields)
                transaction.set_rollback(True)
    return found


def browser(whole, who):
    return two_studios.a_browser(whole.cookies[who])


def everything(answer):
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return body.decode(errors="replace") + str(answer.headers) + str(answer.cookies)


def ask(studios, plan, draw, *, names, ids, forms, before):
    """Ask once, with ids of B in query and body; give what came back and whether B changed."""
    mine, theirs = studios
    _name, path, _is_foreign, who, method = plan
    query = {draw.choice(names): draw.choice(ids) for _ in range(draw.choice((0, 1, 3)))}
    body = dict(forms.get(path, {})) if method == "POST" else {}
    for name in draw.sample(sorted(body), k=min(len(body), draw.choice((0, 1, 2)))):
        body[name] = draw.choice(ids)
    body |= {draw.choice(names): draw.choice(ids) for _ in range(2)} if method == "POST" else {}
    headers = draw.choice(({}, {}, {"HX-Request": "true"}, {"Accept": "application/json"}))
    with transaction.atomic():
        client = browser(mine, who)
        if method == "GET":
            answer = client.get(path, query, headers=headers)
        else:
            answer = client.post(path, body, query_params=query, headers=headers)
        seen = everything(answer)
        has_changed = method == "POST" and two_studios.as_stored(theirs) != before
        transaction.set_rollback(True)
    return answer, seen, has_changed


@pytest.mark.battery
def test_nobody_reads_or_changes_a_word_of_another_studio(
    studios, is_battery, seed, figures, caplog
):
    mine, theirs = studios
    draw, forms = Random(seed), untouched(mine)  # noqa: S311 - the same from the same seed
    ids = two_studios.names_of(theirs)
    every = list(plans(mine, theirs))
    asked = every if is_battery else draw.sample(every, ANSWERS)
    while is_battery and len(asked) < ALL_ANSWERS:
        asked = asked + draw.sample(every, min(len(every), ALL_ANSWERS - len(asked)))
    caplog.set_level("INFO")
    given: dict[int, int] = {}
    leaks, names = [], asked_names()
    before = two_studios.as_stored(theirs)

    for plan in asked:
        answer, seen, has_changed = ask(
            studios, plan, draw, names=names, ids=ids, forms=forms, before=before
        )
        given[answer.status_code] = given.get(answer.status_code, 0) + 1
        is_shown = plan[2] and answer.status_code in {200, 201} and SIGNED_OUT not in seen
        if CANARY.search(seen) or has_changed or is_shown or answer.status_code >= 500:
            leaks.append((plan, answer.status_code, CANARY.findall(seen)[:3], has_changed))

    figures.append(
        f"canaries: seed {seed}, {len(asked)} answers on {connection.vendor}, {given}, "
        f"{len(leaks)} leaks"
    )
    assert leaks == [], "\n".join(map(str, leaks))
    assert two_studios.as_stored(theirs) == before
    assert CANARY.search(caplog.text) is None


def test_every_text_of_a_studio_is_a_canary_or_of_the_vocabulary(studios):
    _, theirs = studios
    written = {
        field
        for model, _row in two_studios.every_row(theirs)
        for field in two_studios.texts_of(model)
    }
    models = {"User", "Studio"} | {model.__name__ for model in crossings.owned_models()}

    assert {model.__name__ for model, _row in two_studios.every_row(theirs)} == models
    assert written >= VOCABULARY
    for model, row in two_studios.every_row(theirs):
        for field in set(two_studios.texts_of(model)) - VOCABULARY:
            assert CANARY.search(getattr(row, field.partition(".")[2])), field


def test_its_own_teacher_reads_the_canaries(studios):
    _, theirs = studios
    path = reverse("progress:student", kwargs={"student_id": theirs.objects["student_id"]})

    assert CANARY.search(everything(browser(theirs, "owner").get(path)))


def test_a_view_that_forgets_its_scope_would_be_seen(studios, monkeypatch):
    mine, theirs = studios
    monkeypatch.setattr(
        "progress.views.student.access.student_of",
        lambda _who, name: Student._base_manager.get(public_id=name),
    )
    path = reverse("progress:student", kwargs={"student_id": theirs.objects["student_id"]})

    assert CANARY.search(everything(browser(mine, "owner").get(path)))


def test_what_views_read_is_found():
    assert {"students", "block", "key", "from", "weekday", "name"} <= set(asked_names())
