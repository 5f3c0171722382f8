"""How heavy and how quick a student's pages are. Bytes and scripts have a limit; times are printed.

Here the phone's worker runs; every page without it: tests/journeys/test_weights.py. What a slow
phone is, and where LCP, INP and CLS come from: tests/vitals.py. Ours aim at 1.5 s, 100 ms and 0.02.
"""

import pytest

from tests import makers, vitals
from tests.offline import phones
from tests.weights import OF_A_PHONE
from tests.wire import counted

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def a_month_played(nor):
    """Three weeks of check-ins, so that the pages are as full as they get."""
    block = nor.block_set.get()
    day = makers.today(nor.studio)
    block.first_day = day.fromordinal(day.toordinal() - 21)
    block.save()
    for number in range(1, 21):
        makers.a_check_in(nor, block=block, day=day.fromordinal(day.toordinal() - number))
    return nor


@pytest.mark.battery
def test_the_first_visit_and_the_next_are_light(a_month_played, make_phone, live_server, figures):
    page_alone = make_phone(a_month_played, service_workers="block")
    phone = make_phone(a_month_played)
    asked: list[str] = []
    phone.context.on("request", lambda one: asked.append(one.url))
    path = f"/practice/{a_month_played.public_id}"
    with counted(live_server.url) as wire:
        phones.paired(page_alone.context, wire.address, page_alone.paired)
        page_alone.page.goto(wire.address + path)
        first = wire.until_quiet(page_alone.page)
    with counted(live_server.url) as wire:
        phones.paired(phone.context, wire.address, phone.paired)
        phones.keeps_everything(phone.page, wire.address + path)
        with_all_pages = wire.until_quiet(phone.page)
        bodies = wire.bodies
        phone.page.goto("about:blank")

        phone.page.goto(wire.address + path)
        second = wire.until_quiet(phone.page) - with_all_pages

    figures.append(
        f"over the wire: first visit {first} bytes; with all pages kept for no signal "
        f"{with_all_pages}, of which bodies {bodies}; the next visit {second} bytes"
    )
    assert first <= OF_A_PHONE.first
    assert bodies <= OF_A_PHONE.first
    assert second <= OF_A_PHONE.next
    assert len(asked) > 20
    assert [one for one in asked if "plotly" in one] == []


@pytest.mark.battery(only=True)
@pytest.mark.parametrize("path", ["", "/check-in", "/session", "/month"])
def test_how_quick_a_page_is_on_a_slow_phone(
    a_month_played, make_phone, live_server, figures, path
):
    rounds = []
    for _ in range(vitals.ROUNDS):
        phone = make_phone(a_month_played)
        rounds.append(vitals.read(phone.page, phone.today + path))
        phone.context.close()

    middle = vitals.middle(rounds)
    figures.append(
        f"slow 4G, processor / {vitals.SLOWER}, median of {vitals.ROUNDS}, {path or '/'}: "
        f"LCP {middle['lcp']:.0f} ms, INP {middle['inp']:.0f} ms, CLS {middle['cls']:.3f}"
    )
