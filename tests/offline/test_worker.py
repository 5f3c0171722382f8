"""What the worker keeps and what it never keeps, and what an app on the home screen needs.

The manifest's members are those of the W3C's Web Application Manifest; icons of 192 and 512 pixels
and a maskable one are what browsers ask for before they offer to install (common practice).
"""

import gzip
import json
import re
import struct

import pytest
from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpResponse
from django.test import Client
from playwright.sync_api import expect

from tests import makers, tree
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)
SCRIPTS_IN_BYTES = 40_000
STATE = "/practice/phone"


def everything(phone) -> set[str]:
    return {path for paths in phones.kept(phone.page).values() for path in paths}


def test_the_worker_keeps_the_four_pages_and_every_file_they_name(nors, nor):
    base = f"/practice/{nor.public_id}"

    found = everything(nors)

    pages = {path for path in found if not path.startswith("/static/")}
    assert pages == {
        base, f"{base}/session", f"{base}/check-in", f"{base}/month", "/edition",
        "/practice/no-signal",
    }  # fmt: skip
    text = "".join(
        nors.page.evaluate("path => caches.match(path).then((page) => page.text())", path)
        for path in sorted(pages - {"/edition"})
    )
    named = set(re.findall(r'"(/static/[^"#]+)', text))
    assert {path for path in named if not path.endswith(".png")} <= found


def test_the_worker_never_keeps_a_teachers_page_an_error_or_what_the_phone_is_told(
    nors, nor, troubles, live_server
):
    troubles.allow("404")
    teacher = makers.a_teacher(nor.studio)
    before = everything(nors)
    session = makers.signed_in(teacher).cookies[settings.SESSION_COOKIE_NAME]
    nors.context.add_cookies(
        [{"name": session.key, "value": session.value, "url": live_server.url}]
    )

    for path in ("/overview", f"/students/{nor.public_id}", "/help", "/practice/0123456789abcdef"):
        nors.page.goto(live_server.url + path)
    nors.page.goto(nors.today)

    new = {path for path in everything(nors) - before if not path.startswith("/static/")}
    assert new == set()
    assert STATE not in everything(nors)


def test_what_a_page_tells_browsers_and_proxies_is_still_to_keep_nothing(nor):
    phone = makers.a_phone(makers.a_grant(nor))
    base = f"/practice/{nor.public_id}"

    for path in ("", "/session", "/check-in", "/month"):
        answer = phone.get(base + path)
        assert (path, answer.headers["Cache-Control"]) == (path, "no-store")
        assert answer.headers["Filar-Keep"] == "yes"
    assert "Filar-Keep" not in Client().get("/help").headers


def test_a_phone_that_is_lent_may_keep_nothing(nor):
    phone = makers.a_phone(makers.a_grant(nor, kind="once"))

    assert "Filar-Keep" not in phone.get(f"/practice/{nor.public_id}").headers


def test_a_server_that_stumbles_gives_way_to_the_page_on_the_phone(nors, monkeypatch, troubles):
    troubles.allow("503")

    def stumbles(*_given, **_more):
        return HttpResponse("no", status=503)

    monkeypatch.setattr("progress.views.practice.render", stumbles)
    nors.page.goto(nors.today)

    expect(nors.page.get_by_role("heading", name="Hi Nor")).to_be_visible()


def test_a_new_release_takes_over_and_loses_nothing_that_waits(nors, live_server):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    phones.without_background(nors.page)
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    waiting = phones.rows(nors.page)
    nors.page.goto("about:blank")
    nors.context.set_offline(False)
    # A release with other files: the worker's text differs, and the old files are still there.
    plain = nors.context.new_page()
    plain.goto(f"{live_server.url}/healthz")
    plain.evaluate(
        """async () => {
          const files = await caches.open("filar-files");
          await files.put("/static/js/old.0123456789ab.js", new Response("old"));
          await (await navigator.serviceWorker.getRegistration()).update();
        }"""
    )

    assert [row["key"] for row in phones.rows(plain)] == [row["key"] for row in waiting]


def test_files_of_older_releases_go_once_no_page_names_them(nors):
    nors.page.evaluate(
        """async () => {
          const files = await caches.open("filar-files");
          await files.put("/static/js/old.0123456789ab.js", new Response("old"));
        }"""
    )
    makers.a_check_in(nors.student, block=nors.student.block_set.get())  # another edition

    nors.page.goto(nors.today)

    phones.until(nors.page, lambda: "/static/js/old.0123456789ab.js" not in everything(nors))


def test_the_worker_is_looked_for_anew_each_time_and_names_hashed_files(client):
    answer = client.get("/sw.js")

    text = answer.content.decode()
    assert answer.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-cache"
    assert staticfiles_storage.url("js/outbox/worker.js") in text
    assert len(re.findall(r"\.[0-9a-f]{12}\.(?:js|woff2)", text)) == 4


def test_the_app_can_be_put_on_a_home_screen(client):
    answer = client.get("/manifest.webmanifest")

    said = json.loads(answer.content)
    assert answer.headers["Content-Type"] == "application/manifest+json"
    assert (said["start_url"], said["display"], said["scope"]) == ("/practice", "standalone", "/")
    for icon in said["icons"]:
        name = re.sub(r"\.[0-9a-f]{12}", "", icon["src"]).removeprefix("/static/")
        # A PNG file says its width and height in bytes 16 to 24 (W3C PNG, section 11.2.1).
        width, height = struct.unpack(">II", (tree.TOP / "static" / name).read_bytes()[16:24])
        assert f"{width}x{height}" == icon["sizes"]
    assert {icon["sizes"] for icon in said["icons"]} == {"192x192", "512x512"}
    assert [icon.get("purpose") for icon in said["icons"]] == [None, None, "maskable"]


def test_the_browser_finds_no_fault_with_the_app(nors):
    session = nors.context.new_cdp_session(nors.page)
    nors.page.goto(nors.today)

    found = session.send("Page.getAppManifest")
    faults = session.send("Page.getInstallabilityErrors")["installabilityErrors"]

    assert found["errors"] == []
    # A private window, which every browser of these tests is, installs nothing.
    assert {fault["errorId"] for fault in faults} <= {"in-incognito"}


@pytest.mark.battery
def test_the_scripts_of_each_page_with_the_worker_are_small(nors, nor, figures):
    base = f"/practice/{nor.public_id}"
    worker = staticfiles_storage.url("js/outbox/worker.js")
    sizes = {}

    for path in (base, f"{base}/session", f"{base}/check-in", f"{base}/month"):
        scripts = set(re.findall(r'"(/static/[^"]+\.js)"', _text(nors, path))) | {worker}
        sizes[path] = sum(len(gzip.compress(_text(nors, one).encode(), 9)) for one in scripts)

    assert max(sizes.values()) <= SCRIPTS_IN_BYTES
    listed = ", ".join(f"{path.removeprefix(base) or '/'} {size}" for path, size in sizes.items())
    figures.append(f"JavaScript of a student's pages, bytes with gzip: {listed}")


def _text(phone, path: str) -> str:
    """Read a page or a file as the phone keeps it, or fetch it."""
    found: str = phone.page.evaluate(
        "async (path) => ((await caches.match(path)) ?? (await fetch(path))).text()", path
    )
    return found


def test_the_address_that_scripts_ask_is_the_one_that_answers():
    text = (tree.TOP / "static/js/outbox/outbox.js").read_text()

    assert f'const STATE = "{STATE}"' in text
    assert Client().get(STATE).status_code == 200
