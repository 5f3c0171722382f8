"""No code goes round the scope of a studio but where a list here says why it may.

The lint reads the syntax, so that neither a line break nor another name for it hides a way round:
what opens or closes a scope, what reads by SQL of its own, what writes many rows at once without
the look at their keys, and what takes rows from a model instead of its scoped manager.
"""

import ast
from collections.abc import Iterator

import pytest

from tests import tree

# A name used anywhere, as `name` or as `thing.name`.
NAMES = {
    *("_base_manager", "_default_manager", "scopes_disabled", "scope", "with_scopes_disabled"),
    *("with_scope", "RawSQL", "raw", "extra", "cursor", "connections", "QuerySet"),
    *("bulk_create", "bulk_update", "save_base", "_raw_delete", "csrf_exempt"),
}
# Words that are also something harmless, where they are not called.
ONLY_CALLED = {"scope", "raw", "extra", "cursor", "QuerySet"}

SEARCHES = {"get_object_or_404", "get_list_or_404"}

ALLOWED = {
    "progress/demo/doors.py: scope": "a command prints the demo's own doors",
    "progress/demo/filling.py: bulk_create": "invented practice of one student at a time",
    "progress/demo/filling.py: scope": "a command fills the demo's own studio",
    "progress/exports/everything.py: scope": "a whole studio is written out, for its owner",
    "progress/management/commands/export_decisions.py: scope": "a command, one studio at a time",
    "progress/queries/read_rows.py: connections": "asks which database it is, and nothing more",
    "progress/queries/tables.py: cursor": "a copy of a studio is of one moment",
    "progress/queries/written_rows.py: connections": "asks how a database writes, and nothing more",
    "progress/services/drop_old.py: scope": "what is too old goes, one studio at a time",
    "progress/services/import_studio.py: _base_manager": "makes rows of a studio it has just made",
    "progress/services/import_studio.py: bulk_create": "every key leads to a row it has just made",
    "progress/services/import_studio.py: bulk_update": "the same rows again",
    "progress/services/import_studio.py: scope": "the studio it has just made",
    "progress/services/planned_letters.py: scope": "a timer, one studio at a time",
    "progress/services/measuring.py: scopes_disabled": "one queue measures for every studio",
    "progress/services/recordings.py: scopes_disabled": "one timer deletes for every studio",
    "studio/passwords.py: scopes_disabled": "a password must not be a studio's name",
    "studio/access.py: scope": "the door opens the studio of whoever has come in",
    "studio/access.py: scopes_disabled": "the door finds out whose scope to open",
    "studio/crossings.py: _base_manager": "looks for what leads from one studio into another",
    "studio/prepared.py: connections": "a statement is asked on the connection of the thread",
    "studio/prepared.py: scope": "a place for the studio, which is filled in from the scope",
    "studio/services/backup_postgresql.py: cursor": "whole tables are copied, of every studio",
    "studio/services/backups.py: scopes_disabled": "a backup holds every studio",
    "studio/services/erase.py: cursor": "the space of what was erased is wiped",
    "studio/services/erase.py: scope": "the studio of whoever is erased",
    "studio/services/erase.py: scopes_disabled": "older copies hold erased students of any studio",
    "studio/services/erased_list.py: bulk_create": "hashes alone; they lead nowhere",
    "studio/services/letters.py: scopes_disabled": "letters of every studio are sent by one timer",
    "studio/services/pairing.py: scopes_disabled": "a token names its student; nobody is in yet",
    "studio/services/people.py: scopes_disabled": "a signed link stops letters without a sign-in",
    "studio/services/standing.py: cursor": "the database itself is asked how it stands",
    "studio/services/team.py: scopes_disabled": "an invitation names its studio; nobody is in yet",
    "studio/views/letters.py: csrf_exempt": "a mail program has seen no form; the link is signed",
}


def ways_round(code: str) -> Iterator[str]:
    """Name every way round the scope that a module's code takes."""
    module = ast.parse(code)
    called = {id(node.func) for node in ast.walk(module) if isinstance(node, ast.Call)}
    for node in ast.walk(module):
        name = _name(node)
        if name in NAMES and (name not in ONLY_CALLED or id(node) in called):
            yield name
        if isinstance(node, ast.Call) and _is_of_a_model(node):
            yield "a model to search"
        if isinstance(node, ast.Constant) and node.value == "__all__":
            yield "all fields"


def _is_of_a_model(call: ast.Call) -> bool:
    """Whether a search is given a model: that would bring its first manager, whichever it is."""
    given = call.args[0] if call.args else None
    is_class = isinstance(given, ast.Name) and given.id[:1].isupper()
    return _name(call.func) in SEARCHES and is_class


def _name(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def found() -> set[str]:
    """List every way round in the program's code as `file: way`."""
    return {
        f"{tree.name(path)}: {way}"
        for path in tree.files(*tree.APPS, suffix=".py")
        if "/migrations/" not in tree.name(path)
        for way in ways_round(path.read_text())
    }


def test_only_listed_places_go_round_the_scope():
    assert found() == set(ALLOWED), "each place needs a reason in ALLOWED, and each reason a place"


@pytest.mark.parametrize(
    ("way", "fault"),
    [
        ("_base_manager", "Student._base_manager.get(pk=pk)"),
        ("_default_manager", "Student._default_manager"),
        ("scopes_disabled", "with scopes_disabled():\n    pass"),
        ("scope", "with scope(studio=request.GET['studio']):\n    pass"),
        ("with_scopes_disabled", "Student.objects.with_scopes_disabled()"),
        ("raw", "Student.objects.raw('SELECT 1')"),
        ("extra", "rows.extra(where=['1=1'])"),
        ("RawSQL", "rows.annotate(x=RawSQL('1', ()))"),
        ("cursor", "connection.cursor()"),
        ("QuerySet", "QuerySet(Student)"),
        ("bulk_create", "CheckIn.objects.bulk_create(rows)"),
        ("a model to search", "get_object_or_404(Student, public_id=name)"),
        ("all fields", "class Meta:\n    fields = '__all__'"),
        ("csrf_exempt", "@csrf_exempt\ndef view(request): ..."),
    ],
)
def test_a_planted_way_round_is_seen(way, fault):
    assert way in set(ways_round(fault))


@pytest.mark.parametrize(
    "code",
    [
        "get_object_or_404(Student.objects, public_id=name)",
        "def rows() -> QuerySet[Student]: ...",
        "raw = 3",
        "Student.objects.filter(public_id=name)",
    ],
)
def test_a_plain_way_is_left_alone(code):
    assert set(ways_round(code)) == set()
