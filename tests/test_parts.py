"""Every part that a studio runs on has a licence that is known and goes with the program's own.

The list is a CycloneDX document (ECMA-424, edition of specification 1.6); licences go by the names
of the SPDX licence list.
"""

import json
import runpy
from email.message import Message

import pytest

from tests import tree
from tests.test_locks import pins

PARTS = runpy.run_path(str(tree.TOP / ".ci" / "parts.py"))
COMPONENTS = PARTS["document"]()["components"]


def said(**fields: str) -> Message:
    """What a package might say of itself."""
    made = Message()
    for name, value in fields.items():
        made[name.replace("_", "-")] = value
    return made


def test_every_package_that_is_pinned_and_every_file_of_others_is_a_part():
    named = {(one["name"], one["version"]) for one in COMPONENTS}
    locked = {
        pair for lock in PARTS["LOCKS"] for pair in pins((tree.TOP / lock).read_text()).items()
    }
    folders = {path.name for path in (tree.TOP / "static" / "vendor").iterdir()}

    assert locked <= named
    assert folders <= {f"{name}-{version}" for name, version in named}


@pytest.mark.parametrize("part", COMPONENTS, ids=lambda part: part["purl"])
def test_the_licence_of_every_part_is_known_and_may(part):
    licences = [next(iter(one["license"].values())) for one in part["licenses"]]

    assert not PARTS["not_allowed"](part["name"], licences), licences


def test_the_reasons_for_single_parts_are_about_parts_that_are_there():
    held = {
        (one["name"], kind["license"].get("id")) for one in COMPONENTS for kind in one["licenses"]
    }

    assert set(PARTS["MAY_HERE"]) <= held
    assert set(PARTS["ELSEWHERE"]) <= {one["name"] for one in COMPONENTS}


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"License": "ask me"},
        {"License_Expression": "AGPL-3.0-only"},
        {"License_Expression": "MIT AND GPL-3.0-or-later"},
        {"Classifier": "License :: Other/Proprietary License"},
        {"Classifier": "License :: OSI Approved"},
        {"License_Expression": "LGPL-3.0-only"},
    ],
)
def test_a_part_whose_licence_is_not_known_or_may_not_would_be_found(fields):
    assert PARTS["not_allowed"]("brass", PARTS["licences_of"](said(**fields)))


@pytest.mark.parametrize(
    "fields",
    [
        {"License_Expression": "MIT"},
        {"License_Expression": "GPL-2.0-only OR BSD-3-Clause"},
        {"License_Expression": "(MIT) AND Zlib"},
        {"License": "BSD 3-Clause License"},
        {"License": "a long text", "Classifier": "License :: OSI Approved :: MIT License"},
    ],
)
def test_a_part_that_may_is_left_alone(fields):
    assert not PARTS["not_allowed"]("brass", PARTS["licences_of"](said(**fields)))


def test_the_list_is_of_the_published_form_and_says_when_a_part_is_not_for_this(
    capsys, monkeypatch
):
    main = PARTS["main"]
    assert main() == 0
    printed = json.loads(capsys.readouterr().out)
    assert (printed["bomFormat"], printed["specVersion"]) == ("CycloneDX", "1.6")
    assert all({"type", "name", "version", "purl"} <= set(one) for one in printed["components"])

    monkeypatch.setitem(main.__globals__, "MAY_HERE", {})

    assert main() == 1
    assert "psycopg" in capsys.readouterr().err
