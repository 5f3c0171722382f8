"""Something hurts: told at once, or kept on the phone until it can be told, always once."""

import re

from playwright.sync_api import expect

from .playing import SHORT, THREE_NOTES, press, word


def test_something_hurts_is_told_at_once_and_ends_the_session(open_session, page, site):
    open_session(notes=THREE_NOTES, hold=8, rest=8, tempo=120)

    press(page, "Start")
    word(page, "Hold")
    press(page, "Something hurts")
    word(page, "Stop for today.")
    expect(page.locator("[data-message]")).to_contain_text("Your teacher has been told.")

    [report] = site.reports
    assert re.search(r'name="key"\s+[0-9a-f-]{36}\s', report)
    assert re.search(r'name="day"\s+2026-03-03\s', report)
    assert re.search(r'name="step"\s+0\s', report)
    assert re.search(r'name="csrfmiddlewaretoken"\s+\w{20,}', report)
    assert page.evaluate("() => localStorage.getItem('filar.hurt')") is None


def test_a_report_that_cannot_be_sent_waits_and_goes_once_with_the_same_key(
    open_session, page, site, troubles
):
    troubles.allow("503")
    site.hurt_status = 503
    open_session(notes=THREE_NOTES, **SHORT)

    press(page, "Something hurts")
    expect(page.locator("[data-message]")).to_have_text(
        "Saved on this phone. Tell a grown-up or your teacher now."
    )
    site.hurt_status = 200
    with page.expect_response("**/hurt"):
        page.reload()

    keys = [re.findall(r"[0-9a-f]{8}-[0-9a-f-]{27}", report)[0] for report in site.reports]
    assert len(keys) == 2
    assert len(set(keys)) == 1
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    assert page.evaluate("() => localStorage.getItem('filar.hurt')") is None
