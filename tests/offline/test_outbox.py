"""The outbox by itself: an item goes only on its own exact echo, whatever else is answered."""

from typing import Any

import pytest

from progress.models import CheckIn
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)

# Answers each post with what the test says, and everything else as the server does.
ANSWER_WITH = """([status, body]) => {
  const real = window.fetch;
  const made = (said) => typeof said === "string" ? said || null : JSON.stringify(said);
  window.fetch = async (address, how) => how?.method === "POST"
    ? new Response(made(body), { status })
    : real(address, how);
}"""
IN_THE_OUTBOX = """async ([name, ...given]) => {
  const outbox = await import(document.body.dataset.outbox);
  return outbox[name](...given).then((said) => ({ said }), (error) => ({ error: String(error) }));
}"""
KEY = "7b0f9c1e-8a51-4f6e-9a3c-2f5a3f1f7a11"


def ask(phone, name: str, *given: Any) -> dict[str, Any]:
    found: dict[str, Any] = phone.page.evaluate(IN_THE_OUTBOX, [name, *given])
    return found


def an_item(phone, **changes: Any) -> dict[str, Any]:
    return {
        "kind": "hurt",
        "key": KEY,
        "student": phone.student.public_id,
        "url": f"/practice/{phone.student.public_id}/hurt",
        "fields": {"step": "3"},
    } | changes


@pytest.fixture
def phone(nors):
    """A phone on Today, with nothing that sends beside the test."""
    nors.page.goto(nors.today)
    phones.without_background(nors.page)
    nors.page.locator("html[data-students]").wait_for(state="attached")
    nors.page.evaluate("() => navigator.locks.request('filar.outbox', () => null)")
    return nors


ANSWERS: tuple[tuple[int, Any], ...] = (
    (200, "<html>Welcome to the hall's wireless network</html>"),
    (200, {}),
    (200, {"key": KEY, "hash": "0" * 64}),
    (201, {"key": "another", "hash": "0" * 64}),
    (204, ""),
    (500, "no"),
    (503, {"words": "later"}),
    (429, {"words": "too many"}),
    (403, "no token"),
    (404, "not here"),
)
REFUSED = ((409, "other answers"), (413, "too long"), (422, "not that day"))


def test_nothing_but_its_own_echo_takes_an_item_away(phone):
    ask(phone, "put", an_item(phone))

    for status, body in ANSWERS:
        phone.page.evaluate(ANSWER_WITH, [status, body])
        assert ask(phone, "flush") == {"said": []}, (status, body)
        assert [row["problem"] for row in phones.rows(phone.page)] == [None], (status, body)


def test_what_is_refused_stays_with_the_words_that_were_said(phone):
    for number, (status, words) in enumerate(REFUSED):
        phone.page.evaluate(ANSWER_WITH, [status, {"words": words}])
        ask(phone, "put", an_item(phone, key=f"{number}{KEY[1:]}"))
        ask(phone, "flush")

    found = [row["problem"] for row in phones.rows(phone.page)]
    assert [(one["status"], one["words"]) for one in found] == list(REFUSED)


def test_its_own_echo_takes_it_away(phone):
    ask(phone, "put", an_item(phone))

    assert ask(phone, "flush") == {"said": [KEY]}
    assert phones.rows(phone.page) == []


def test_the_same_item_twice_is_one_and_other_fields_under_its_key_are_refused(phone):
    first = ask(phone, "put", an_item(phone))
    again = ask(phone, "put", an_item(phone))
    other = ask(phone, "put", an_item(phone, fields={"step": "4"}))

    assert (first, again) == ({"said": None}, {"said": None})
    assert "Other answers wait under this key." in other["error"]
    assert [row["body"] for row in phones.rows(phone.page)] == [f"step=3&key={KEY}"]


def test_a_mended_item_takes_the_place_of_the_one_it_mends(phone):
    ask(phone, "put", an_item(phone))

    ask(phone, "put", an_item(phone, key="8" + KEY[1:], fields={"step": "4"}, replaces=KEY))

    assert [row["key"] for row in phones.rows(phone.page)] == ["8" + KEY[1:]]


def test_what_was_refused_is_not_sent_over_and_over(phone):
    phone.page.evaluate(ANSWER_WITH, [422, {"words": "not that day"}])
    ask(phone, "put", an_item(phone))
    ask(phone, "flush")
    phone.page.evaluate(
        "() => { window.asked = 0; const real = window.fetch; window.fetch = (...given) => {"
        " if (given[1]?.method === 'POST') window.asked += 1; return real(...given); }; }"
    )

    ask(phone, "flush")

    assert phone.page.evaluate("() => window.asked") == 0
    assert not CheckIn.objects.exists()
