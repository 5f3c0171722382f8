"""Something hurts: told at once, or kept on the phone until it can be told, always once."""

import re
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import expect

from .playing import SHORT, THREE_NOTES, press, result, word

TOLD = (
    "Thanks for saying so. Rest today. Your teacher has been told."
    " Your plan stays where it is until you two have talked."
)
KEPT = "Saved on this phone. Tell a grown-up or your teacher now."


def test_something_hurts_is_told_at_once_and_ends_the_session(open_session, page, site):
    open_session(notes=THREE_NOTES, hold=2, rest=16, tempo=120)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Something hurts")
    word(page, "Stop for today.")
    expect(page.get_by_text("Tell your teacher or a parent.")).to_be_visible()
    expect(page.locator("[data-message]")).to_have_text(TOLD)

    [report] = site.reports
    told = parse_qs(report)
    assert re.fullmatch(r"[0-9a-f-]{36}", told["key"][0])
    assert (told["day"], told["step"]) == (["2026-03-03"], ["0"])
    assert site.tokens == [site.greeting["token"]]
    # What was played is kept for the check-in, and nothing is left to carry on with.
    assert (result(page)["notes_played"], result(page)["finished"]) == (1, 0)
    page.reload()
    word(page, "Ready, Nor?")


def test_a_report_that_cannot_be_sent_waits_and_goes_once_with_the_same_key(
    open_session, page, site, troubles
):
    troubles.allow("503")
    site.hurt_status = 503
    open_session(notes=THREE_NOTES, **SHORT)

    with page.expect_response("**/hurt"):
        press(page, "Something hurts")
    expect(page.locator("[data-message]")).to_have_text(KEPT)
    site.hurt_status = 200
    with page.expect_response("**/hurt"):
        page.reload()

    keys = [re.findall(r"[0-9a-f]{8}-[0-9a-f-]{27}", report)[0] for report in site.reports]
    assert len(keys) == 2
    assert len(set(keys)) == 1
    expect(page.get_by_role("button", name="Start")).to_be_visible()


@pytest.mark.parametrize(
    ("status", "words"),
    [(200, TOLD), (503, "This phone could not save it. Tell a grown-up or your teacher now.")],
)
def test_a_phone_that_can_keep_nothing_tells_the_teacher_or_says_the_truth(
    open_session, page, site, troubles, status, words
):
    troubles.allow("503")
    site.hurt_status = status
    # No store of any kind takes a word.
    page.add_init_script("""Storage.prototype.setItem = () => { throw new Error("no room"); };
        delete window.indexedDB;""")
    open_session(notes=THREE_NOTES, **SHORT)

    press(page, "Something hurts")

    expect(page.locator("[data-message]")).to_have_text(words)
    assert len(site.reports) == 1
