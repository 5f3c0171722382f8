"""The modules of the player under their hashed names, as a release serves them."""

import json
import re
import shutil
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import expect

from .conftest import render
from .session_maker import a_session

PLAYER = Path(settings.STATICFILES_DIRS[0]) / "js" / "player"
PARTS = sorted(file.name for file in PLAYER.glob("*.js"))


@pytest.fixture
def only_hashed(collected_static: Path, tmp_path: Path) -> Path:
    """The collected files without the plain-named copies."""
    manifest = json.loads((collected_static / "staticfiles.json").read_text())["paths"]
    for hashed in manifest.values():
        target = tmp_path / hashed
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(collected_static / hashed, target)
    return tmp_path


def test_a_session_plays_when_only_the_hashed_files_exist(open_session, page, site, only_hashed):
    site.folder = only_hashed
    open_session(notes=[(67, "down")], hold=2, rest=0, tempo=240, top_is_open=False)

    page.get_by_role("button", name="Start").click()
    expect(page.locator("[data-word]")).to_have_text("Done.")

    fetched = {re.sub(r"\.[0-9a-f]{12}\.js$", ".js", Path(asked).name) for asked in site.asked}
    assert set(PARTS) <= fetched
    assert all(
        re.search(r"\.[0-9a-f]{12}\.js$", asked) for asked in site.asked if "/player/" in asked
    )


def test_no_module_names_another_one_in_its_code():
    # A relative import would ask for the plain name, which no page can keep in step with the rest.
    for name in PARTS:
        code = re.sub(r"/\*.*?\*/|//[^\n]*", "", (PLAYER / name).read_text(), flags=re.DOTALL)

        assert not re.search(r"\bfrom\s*[\"']|\bimport\s*[\"']|\bimport\([\"']", code), name


@pytest.mark.parametrize("missing", ["clock", "main"])
def test_a_player_that_cannot_start_says_so(
    page, site, open_session, only_hashed, troubles, missing
):
    troubles.allow("404", "dynamically imported module")
    site.folder = only_hashed
    for file in (only_hashed / "js" / "player").glob(f"{missing}.*"):
        file.unlink()
    site.pages["/session"] = render(a_session())

    page.goto(f"{site.address}/session")

    expect(page.get_by_text("Nothing is lost. The player could not start.")).to_be_visible()
    expect(page.get_by_role("button", name="Start")).to_be_hidden()


@pytest.mark.parametrize("name", PARTS)
def test_scripts_never_write_markup_or_styles(name):
    code = (PLAYER / name).read_text()

    for banned in ("innerHTML", "outerHTML", "insertAdjacentHTML", "eval(", ".style", "cssText"):
        assert banned not in code


def test_the_template_has_no_inline_script_style_or_handler():
    page = (Path(settings.BASE_DIR) / "templates" / "routines" / "session.html").read_text()

    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", page)
    assert all("src=" in script for script in re.findall(r"<script[^>]*>", page))
