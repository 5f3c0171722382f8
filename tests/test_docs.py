"""The documents name what is there: every setting, command and target, and no dead link."""

import re

import pytest
from django.core.management import get_commands

from tests import tree
from tests.pictures import MOST_BYTES

GUIDE = (tree.TOP / "DEVELOPERS.md").read_text()
README = (tree.TOP / "README.md").read_text()
DOCUMENTS = sorted(tree.files(suffix=".md"))


def settings_read() -> set[str]:
    """Name the environment variables of ours that the settings or the Makefile's scripts read."""
    sources = [tree.TOP / "config/settings.py", *tree.files(".ci", suffix=".py")]
    return set(
        re.findall(
            r"\b(?:FILAR_[A-Z_]+[A-Z]|DATABASE_URL|PORT)\b",
            "".join(path.read_text() for path in sources),
        )
    )


def targets() -> set[str]:
    """Name the targets of the Makefile."""
    return set(re.findall(r"^([a-z]+):", (tree.TOP / "Makefile").read_text(), re.M))


def commands() -> set[str]:
    """Name the management commands of our own apps."""
    return {name for name, app in get_commands().items() if app in tree.APPS}


def dead_links(path, text):
    """List the links of a document that lead to no file."""
    links = re.findall(r"\]\(([^)\s]+)\)", text)
    inner = [link.split("#")[0] for link in links if "://" not in link and link[0] != "#"]
    return [link for link in inner if not (path.parent / link).exists()]


@pytest.mark.parametrize("name", sorted(settings_read()))
def test_the_guide_names_every_setting(name):
    assert f"`{name}`" in GUIDE


@pytest.mark.parametrize("name", sorted(targets()))
def test_the_guide_names_every_target(name):
    assert f"`make {name}`" in GUIDE


@pytest.mark.parametrize("name", sorted(commands()))
def test_the_guide_names_every_command(name):
    assert f"`{name}`" in GUIDE


def test_the_readme_shows_every_picture_and_none_is_heavy():
    kept = sorted((tree.TOP / "docs" / "pictures").iterdir())

    assert [path.name for path in kept if f"docs/pictures/{path.name}" not in README] == []
    assert set(re.findall(r"docs/pictures/([\w-]+\.png)", README)) == {path.name for path in kept}
    assert [path.name for path in kept if path.stat().st_size > MOST_BYTES] == []


def test_every_target_says_what_it_does():
    makefile = (tree.TOP / "Makefile").read_text()

    assert set(re.findall(r"^([a-z]+):.*## .+$", makefile, re.M)) == targets()


def test_something_is_looked_for():
    assert {"FILAR_ADDRESS", "FILAR_SECRET_KEY", "DATABASE_URL", "PORT"} <= settings_read()
    assert {"demo", "run", "test"} <= targets()
    assert {"timeline", "demo_studio", "first_run"} <= commands()


def test_the_readme_begins_with_the_job_in_one_paragraph():
    title, job = README.split("\n\n")[:2]

    assert title == "# Filar"
    assert {"teacher", "student", "held notes", "month"} <= set(
        re.findall(r"teacher|student|held notes|month", job)
    )


def test_the_readme_shows_the_demo_and_both_commands():
    assert "](docs/pictures/overview.png)" in README
    assert "\nmake demo\n" in README
    assert "\nmake test\n" in README


@pytest.mark.parametrize("path", DOCUMENTS, ids=tree.name)
def test_no_link_is_dead(path):
    assert dead_links(path, path.read_text()) == []


def test_a_dead_link_would_be_found():
    text = "[a](README.md) [b](NOWHERE.md#part) [c](#here) [d](https://studio.example/x)"

    assert dead_links(tree.TOP / "DEVELOPERS.md", text) == ["NOWHERE.md"]


def test_decision_notes_are_numbered_once_each():
    numbers = [path.name[:4] for path in tree.files("docs/decisions", suffix=".md")]

    assert len(numbers) == len(set(numbers))
    assert all(number.isdigit() for number in numbers)
