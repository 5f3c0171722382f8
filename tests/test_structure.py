"""The structure holds: what lies where, what may be written where, what an engine loads.

Each rule is a function or a pattern, and each is shown a planted fault as well, so that a rule
that sees nothing does not pass for a rule that holds.
"""

import re
import subprocess
import sys

import pytest

from tests import tree

TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "Makefile", "manage.py"),
    *("pyproject.toml", "config", "studio", "routines", "progress", "templates", "static"),
    *(
        "tests",
        "docs",
        "deploy",
        ".ci",
        ".gitignore",
        ".dockerignore",
        "requirements.txt",
        "requirements-test.txt",
    ),
    *("requirements-postgres.txt", "requirements-recordings.txt"),
}
ENGINES = [
    tree.name(path).removesuffix(".py").replace("/", ".")
    for path in tree.files("routines/engine", "progress/engine", suffix=".py")
    if path.name != "__init__.py"
]
LONGEST_MODULE = 300

# No inline code: the content security policy would refuse it on the page.
INLINE = (
    r"(?i)\sstyle\s*=|<style\b|<script\b(?![^>]*\bsrc\s*=)|[\s\"']on[a-z]+\s*=\s*[\"']"
    r"|\bhx-on\b|javascript:"
)
UNSAFE_TEMPLATE = r"\|\s*safe(?:seq)?\b|\{%\s*autoescape\s+off"
UNSAFE_SCRIPT = (
    r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function"
    r"|setAttribute\(\s*[\"']style"
)
# To a musician these are time signatures. A page writes "Hold 12 · Rest 8".
TIME_SIGNATURE = r"(?<![\d/])(?:12/8|8/4|4/4|8/8)(?![\d/])"
# Put together here, so that this file itself names no such path.
MACHINE_PATH = r"(?<![\w.<])/(?:" + "|".join(("work", "root", "tmp", "home", "opt")) + r")/"

# What reads past the studio's scope, past the escaping of templates, or draws numbers that can be
# guessed, and where it may.
PAST_THE_RULES = (
    r"mark_safe|SafeString|_base_manager|\.raw\(|RawSQL|\bcursor\(|scopes_disabled\("
    r"|\bimport random\b|\bfrom random\b"
)
ALLOWED = {
    "progress/demo/filling.py: from random": "invented practice, the same from the same seed",
    "progress/demo/practice.py: from random": "invented practice, the same from the same seed",
    "studio/access.py: scopes_disabled(": "the door finds out whose scope to open",
    "studio/passwords.py: scopes_disabled(": "a password must not be a studio's name",
    "studio/services/pairing.py: scopes_disabled(": "a token names its student; nobody is in yet",
    "studio/services/team.py: scopes_disabled(": "an invitation names its studio; nobody is in yet",
    "progress/queries/tables.py: cursor(": "a copy of a studio is of one moment",
    "progress/services/import_studio.py: _base_manager": "makes rows of a studio it has just made",
    "studio/crossings.py: _base_manager": "looks for what leads from one studio into another",
    "studio/services/backup_postgresql.py: cursor(": "whole tables are copied, of every studio",
    "studio/services/backups.py: scopes_disabled(": "a backup holds every studio",
    "studio/services/erase.py: cursor(": "the space of what was erased is wiped",
    "studio/services/erase.py: scopes_disabled(": "older copies hold erased students of any studio",
    "studio/services/letters.py: scopes_disabled(": "letters of every studio are sent by one timer",
    "studio/services/people.py: scopes_disabled(": "a signed link stops letters without a sign-in",
    "studio/services/standing.py: cursor(": "the database itself is asked how it stands",
    "progress/services/measuring.py: scopes_disabled(": "one queue measures for every studio",
    "progress/services/recordings.py: scopes_disabled(": "one timer deletes for every studio",
    "progress/charts/month_svg.py: mark_safe": "the line is our own SVG: numbers and names of ours",
    "studio/qr.py: mark_safe": "the QR code is our own SVG and holds no text",
}


def came_along(module: str) -> str:
    """Load a module in a fresh interpreter and name the Django modules that came with it."""
    code = (
        f"import sys, {module}; "
        "print(*sorted(m for m in sys.modules if m.split('.')[0].startswith('django')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tree.TOP, capture_output=True, text=True, check=True
    )
    return done.stdout.strip()


@pytest.mark.parametrize("module", ENGINES)
def test_an_engine_module_loads_without_django(module):
    assert came_along(module) == ""


def test_django_would_be_seen_where_it_comes_along():
    assert "django.conf" in came_along("config.wsgi")


def test_both_engines_are_looked_at():
    assert {"routines.engine.walk", "routines.engine.plan"} <= set(ENGINES)


def test_the_listing_of_the_top_is_the_architecture():
    assert {path.name for path in tree.children(tree.TOP)} == TOP_LEVEL


def test_every_init_file_is_empty():
    full = [tree.name(p) for p in tree.files(suffix="__init__.py") if p.read_text().strip()]

    assert full == []


def test_no_module_is_longer_than_three_hundred_lines():
    lengths = {
        tree.name(path): len(path.read_text().splitlines())
        for path in tree.files(*tree.APPS, suffix=".py")
    }

    assert {name for name, lines in lengths.items() if lines > LONGEST_MODULE} == set()
    assert len(lengths) > 20


@pytest.mark.parametrize(
    ("pattern", "folders", "suffix"),
    [
        (INLINE, ["templates"], ".html"),
        (UNSAFE_TEMPLATE, ["templates"], ".html"),
        (UNSAFE_SCRIPT, ["static/js"], ".js"),
        (TIME_SIGNATURE, ["templates"], ".html"),
        (TIME_SIGNATURE, ["static/js"], ".js"),
        (TIME_SIGNATURE, tree.APPS, ".py"),
    ],
)
def test_nothing_that_is_forbidden_is_written(pattern, folders, suffix):
    assert list(tree.files(*folders, suffix=suffix)) != []
    assert tree.matches(pattern, tree.files(*folders, suffix=suffix)) == []


@pytest.mark.parametrize(
    ("pattern", "fault"),
    [
        (INLINE, '<p style="color: red">'),
        (INLINE, "<STYLE>p {}</STYLE>"),
        (INLINE, "<script>start()</script>"),
        (INLINE, '<script type="module">start()</script>'),
        (INLINE, '<button onclick="start()">'),
        (INLINE, '<button class="a"onclick="start()">'),
        (INLINE, '<button hx-on:click="start()">'),
        (INLINE, '<a href="javascript:start()">'),
        (UNSAFE_TEMPLATE, "{{ message|safe }}"),
        (UNSAFE_TEMPLATE, "{% autoescape off %}"),
        (UNSAFE_SCRIPT, "note.innerHTML = name"),
        (TIME_SIGNATURE, "Endurance (12/8)"),
        (PAST_THE_RULES, "import random"),
        (PAST_THE_RULES, "    from random import choice"),
        (MACHINE_PATH, 'open("/' + 'tmp/x")'),
        (PAST_THE_RULES, "Student._base_manager.all()"),
        (PAST_THE_RULES, "with scopes_disabled():"),
        (PAST_THE_RULES, "connection.cursor()"),
    ],
)
def test_a_planted_fault_is_found(pattern, fault):
    assert re.search(pattern, fault)


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (INLINE, '<script type="module" src="/static/js/site.js"></script>'),
        (INLINE, '<input name="instrument" value="one">'),
        (TIME_SIGNATURE, "2026/12/8, 112/8 and 8/42"),
        (MACHINE_PATH, "templates/routines/tmp/"),
        (PAST_THE_RULES, "from secrets import token_hex"),
    ],
)
def test_what_is_allowed_is_left_alone(pattern, text):
    assert re.search(pattern, text) is None


def test_only_listed_places_go_past_scope_escaping_and_secrets():
    found = set(tree.matches(PAST_THE_RULES, tree.files(*tree.APPS, suffix=".py")))

    assert found == set(ALLOWED), "each place needs a reason in ALLOWED, and each reason a place"


def test_no_file_names_a_path_of_some_machine():
    assert tree.matches(MACHINE_PATH, tree.texts()) == []


# Words in the names of modules that decide who sees a child's data, and whether it is kept.
GUARDS = re.compile(r"access|pairing|phone|typed_code|check_in|echo|backup|restore|verify|eras")


def test_the_bar_of_every_branch_is_for_modules_that_are_there_and_forgets_none():
    listed = re.search(
        r"^EVERY_BRANCH := \\\n((?:\t.*\n)+)", (tree.TOP / "Makefile").read_text(), re.M
    )
    assert listed is not None
    named = set(listed[1].replace("\\", " ").split())
    modules = {
        path.relative_to(tree.TOP).as_posix()
        for app in ("studio", "progress")
        for path in (tree.TOP / app).rglob("*.py")
        if "migrations" not in path.parts
    }

    assert {name for name in named if not (tree.TOP / name).is_file()} == set()
    guards = {name for name in modules if GUARDS.search(name.rpartition("/")[2])}
    # The rows of a model have no ways of their own to go.
    assert {name for name in guards - named if not name.endswith("models.py")} == set()
