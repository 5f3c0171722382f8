"""Links under strain: twenty phones at once, and the machines that open a link before the child."""

from concurrent.futures import ThreadPoolExecutor
from functools import partial
from threading import Barrier

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Grant
from studio.services import pairing, typed_code
from studio.words import OfferKind
from tests import makers
from tests.test_roles import everything_stored

CLIENTS = 20
NAME = "Thistlewick"
# What fetches a link that is sent about, before a person does: chat programs, mail scanners,
# search machines and browsers that load ahead. The names are written from memory; what counts is
# that none of them sends a form.
BOTS = (
    "WhatsApp/2.24.1 A",
    "TelegramBot (like TwitterBot)",
    "facebookexternalhit/1.1 (+http://www.facebook.com/externalhit_uatext.php)",
    "Twitterbot/1.0",
    "Slackbot-LinkExpanding 1.0 (+https://api.slack.com/robots)",
    "Discordbot/2.0 (+https://discordapp.com)",
    "LinkedInBot/1.0",
    "SkypeUriPreview Preview/0.5",
    "Mozilla/5.0 (compatible; Googlebot/2.1; +http://www.google.com/bot.html)",
    "Mozilla/5.0 (compatible; bingbot/2.0; +http://www.bing.com/bingbot.htm)",
    "Mozilla/5.0 (Windows NT 10.0; Win64; x64) Mail link scanner",
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 Safari/604.1",
)
HOW = {
    "GET": ("get", {}),
    "HEAD": ("head", {}),
    "prefetch": ("get", {"Sec-Purpose": "prefetch;prerender", "Purpose": "prefetch"}),
}


def all_at_once(redeem) -> list[bool]:
    """Let every phone ask at the same moment, and say which of them were set up."""
    start = Barrier(CLIENTS)

    def one(number: int) -> bool:
        try:
            start.wait()
            return isinstance(redeem(label=f"phone {number}"), pairing.Redeemed)
        finally:
            connection.close()

    with ThreadPoolExecutor(CLIENTS) as pool:
        return list(pool.map(one, range(CLIENTS)))


def by_code(code, *, label, moment):
    """Use up what a code opens, as the page does."""
    found = pairing.offer_of_code(code, moment=moment)
    return found and pairing.redeem_offer(found, label=label, moment=moment)


@pytest.mark.battery
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("how", ["link", "code"])
def test_of_twenty_phones_with_one_link_exactly_one_is_set_up(
    how, is_battery, figures, monkeypatch
):
    # Else the code's own five tries would stop most of the others.
    monkeypatch.setattr(typed_code, "MOST_TRIES", CLIENTS)
    races = 200 if is_battery else 3
    nor = makers.a_student(makers.a_studio())
    moment = timezone.now()

    for number in range(races):
        with scopes_disabled():
            Grant.objects.all().delete()
            made = pairing.make_offer(nor, kind=OfferKind.LESSON, by=None, moment=moment)
        redeem, given = {
            "link": (pairing.redeem, made.token), "code": (by_code, made.code)
        }[how]  # fmt: skip
        set_up = all_at_once(partial(redeem, given, moment=moment))
        with scopes_disabled():
            phones = Grant.objects.count()
        assert (number, set_up.count(True), phones) == (number, 1, 1)
    figures.append(
        f"one {how}, {CLIENTS} phones at once, {races} times on {connection.vendor}: "
        f"{races} phones set up, 0 twice"
    )


@pytest.mark.django_db(transaction=True)
def test_of_twenty_guesses_at_one_code_at_once_five_are_looked_at(monkeypatch):
    nor = makers.a_student(makers.a_studio())
    moment = timezone.now()
    with scopes_disabled():
        made = pairing.make_offer(nor, kind=OfferKind.LESSON, by=None, moment=moment)
    looked_at: list[str] = []
    monkeypatch.setattr(typed_code, "check_password", lambda given, _kept: looked_at.append(given))
    wrong = made.code[:3] + "222222"

    set_up = all_at_once(partial(by_code, wrong, moment=moment))

    assert (set_up.count(True), len(looked_at)) == (0, typed_code.MOST_TRIES)


@pytest.mark.django_db
@pytest.mark.parametrize("how", list(HOW))
@pytest.mark.parametrize("path", ["/pair", "/parent"])
def test_twelve_machines_open_the_link_first_and_it_still_works(path, how):
    nor = makers.a_student(makers.a_studio(name=f"Studio {NAME}"), name=NAME)
    kind = OfferKind.SENT if path == "/pair" else OfferKind.PARENT
    makers.an_offer(nor, token="the-real-one", kind=kind)
    before = everything_stored()
    method, headers = HOW[how]

    for agent in BOTS:
        page = getattr(Client(), method)(path, headers={"User-Agent": agent, **headers})
        assert page.status_code == (405 if method == "head" else 200)
        assert NAME not in page.content.decode()
        assert not {settings.PHONE_COOKIE_NAME, settings.PARENT_COOKIE_NAME} & set(page.cookies)
    assert everything_stored() == before

    answer = Client().post(path, {"token": "the-real-one"})
    assert answer.status_code == 302
    assert nor.public_id in answer.headers["Location"]
