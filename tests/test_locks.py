"""The lock files: every package pinned and hashed, the same pins in all, no registry named."""

import re
import tomllib

import pytest

from tests import tree

LOCKS = sorted(tree.TOP.glob("requirements*.txt"))
PIN = re.compile(r"^(?P<name>[a-z0-9][a-z0-9.-]*)(?:\[[a-z,]+\])?==(?P<version>[^ ;\\]+)", re.M)
ADDRESS = re.compile(r"https?:|--index-url|--extra-index-url|--find-links|\bgit\+|\bfile:")


def pins(text: str) -> dict[str, str]:
    """Read the pinned version of every package in a lock file."""
    return {found["name"]: found["version"] for found in PIN.finditer(text)}


def without_hash(text: str) -> list[str]:
    """Name the entries that plain pip would refuse under --require-hashes."""
    entries = re.split(r"^(?=[^\s#])", text, flags=re.M)
    return [
        entry.split("\n")[0]
        for entry in entries
        if entry.strip() and entry[0] not in "#\n" and "--hash=sha256:" not in entry
    ]


def asked_for() -> dict[str, list[str]]:
    """List the packages that pyproject.toml asks for, by the lock file that must hold them."""
    project = tomllib.loads((tree.TOP / "pyproject.toml").read_text())
    base = project["project"]["dependencies"]
    extras = project["project"]["optional-dependencies"]
    wanted = {
        "requirements.txt": base,
        "requirements-postgres.txt": base + extras["postgres"],
        "requirements-recordings.txt": base + extras["recordings"],
        "requirements-test.txt": base + project["dependency-groups"]["test"],
    }
    return {
        lock: [re.split(r"[\[<>=~! ]", name)[0] for name in names] for lock, names in wanted.items()
    }


def test_every_lock_file_is_expected():
    assert {lock.name for lock in LOCKS} == set(asked_for())


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_every_entry_has_a_hash_and_none_names_an_address(lock):
    text = lock.read_text()

    assert without_hash(text) == []
    assert ADDRESS.findall(text) == []


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_everything_that_is_asked_for_is_pinned(lock):
    missing = set(asked_for()[lock.name]) - set(pins(lock.read_text()))

    assert missing == set()


def test_all_lock_files_pin_the_same_versions():
    base = pins((tree.TOP / "requirements.txt").read_text())

    for lock in LOCKS:
        others = pins(lock.read_text())
        differing = {name: others.get(name) for name in base if others.get(name) != base[name]}
        assert differing == {}, lock.name


def test_an_entry_without_hash_or_with_an_address_would_be_found():
    hashed = "segno==1.6.6 \\\n    --hash=sha256:00\n    # via filar\n"

    assert without_hash(hashed + "mido==1.3.3\n") == ["mido==1.3.3"]
    assert without_hash("--index-url https://registry.example\n" + hashed) != []
    assert ADDRESS.search("segno @ https://registry.example/segno.whl")
