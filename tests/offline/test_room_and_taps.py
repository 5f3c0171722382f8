"""A phone without room, and fingers that tap twice: what is said is so, and counts once."""

import pytest
from playwright.sync_api import Dialog, expect

from progress.models import CheckIn
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)

# Ways in which a phone may have no room. The third lets the write itself succeed and takes it back
# before its transaction completes: whoever says "saved" too early says it here.
FULL = {
    "no database at all": "() => { delete window.indexedDB; "
    "Object.defineProperty(window, 'indexedDB', { value: undefined }); }",
    "opening is refused": """() => { IDBFactory.prototype.open = () => {
        throw new DOMException("private", "InvalidStateError"); }; }""",
    "it is full only at the end": """() => {
        const real = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (...given) {
            const asked = real.apply(this, given);
            asked.addEventListener("success", () => this.transaction.abort());
            return asked;
        };
    }""",
}
TAPS = """async (gaps) => {
  const button = document.querySelector('button[name="hurt"][value="no"]');
  for (const gap of gaps) {
    button.click();
    if (gap > 0) await new Promise((done) => setTimeout(done, gap));
  }
}"""


@pytest.mark.parametrize("how", FULL)
def test_a_phone_without_room_says_so_and_the_answers_stay(nors, how):
    nors.context.set_offline(True)
    nors.open_check_in()
    nors.page.evaluate(FULL[how])
    phones.fill(nors.page, words="still here")

    phones.save(nors.page)

    expect(
        nors.page.get_by_text("This phone has no room to save. Keep this page open.")
    ).to_be_visible()
    expect(nors.page.get_by_text("Saved", exact=False).first).to_be_hidden()
    assert nors.page.locator("[name=words]").input_value() == "still here"


@pytest.mark.parametrize("how", ["no database at all"])
def test_a_phone_without_room_sends_at_once_where_there_is_signal(nors, how):
    nors.open_check_in()
    nors.page.evaluate(FULL[how])
    phones.fill(nors.page)

    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    assert CheckIn.objects.count() == 1


def test_a_phone_without_room_sends_once_the_signal_is_back(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    nors.page.evaluate(FULL["opening is refused"])
    phones.fill(nors.page)
    phones.save(nors.page)
    expect(nors.page.get_by_text("Keep this page open.")).to_be_visible()

    nors.context.set_offline(False)

    phones.says_saved_there(nors.page)
    assert CheckIn.objects.count() == 1


def test_leaving_a_page_whose_answers_have_no_room_is_asked_about(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    nors.page.evaluate(FULL["opening is refused"])
    phones.fill(nors.page)
    phones.save(nors.page)
    expect(nors.page.get_by_text("Keep this page open.")).to_be_visible()
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    nors.page.on("dialog", answer)

    nors.page.close(run_before_unload=True)

    phones.until(nors.context.new_page(), lambda: asked == ["beforeunload"])


@pytest.mark.battery
def test_two_and_three_taps_are_one_check_in(nors, is_battery, figures):
    gaps = [0, 1, 10, 40, 100, 200, 300, 400] if is_battery else [0, 40, 400]
    runs = [[gap] * taps for gap in gaps for taps in (1, 2)] * (7 if is_battery else 1)
    for number, pauses in enumerate(runs):
        nors.context.set_offline(number % 2 == 1)
        nors.open_check_in()
        if number > 0:
            nors.page.get_by_role("button", name="Change it").click()
        phones.fill(nors.page, words=f"tap {number}")

        nors.page.evaluate(TAPS, [*pauses, 0])

        expect(nors.page.locator("[data-kept-panel]")).to_be_visible()
    nors.context.set_offline(False)
    nors.page.goto(nors.today)
    phones.until(nors.page, lambda: phones.rows(nors.page) == [])

    found = sorted(CheckIn.objects.values_list("words", flat=True))
    assert found == sorted(f"tap {number}" for number in range(len(runs)))
    figures.append(f"two and three taps on Save, {len(runs)} runs: {len(found)} rows, 0 extra")


def test_two_tabs_send_what_waits_once(nors):
    nors.context.set_offline(True)
    for number in range(3):
        nors.open_check_in()
        if number > 0:
            nors.page.get_by_role("button", name="Change it").click()
        phones.fill(nors.page, words=f"tab {number}")
        phones.save(nors.page)
        phones.says_saved_here(nors.page)
    other = nors.context.new_page()
    other.goto(nors.today)

    nors.context.set_offline(False)

    phones.until(other, lambda: phones.rows(other) == [])
    assert sorted(CheckIn.objects.values_list("words", flat=True)) == ["tab 0", "tab 1", "tab 2"]


def test_a_browser_without_locks_sends_once_as_well(nors):
    nors.context.add_init_script(
        "Object.defineProperty(Navigator.prototype, 'locks', { value: undefined });"
    )
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    other = nors.context.new_page()
    other.goto(nors.today)

    nors.context.set_offline(False)

    phones.until(other, lambda: phones.rows(other) == [])
    assert CheckIn.objects.count() == 1
