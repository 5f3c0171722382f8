"""List the parts that a studio runs on, with their licences, as a CycloneDX document (ECMA-424).

`make parts` prints it as JSON; it asks the packages that `make setup` installs. The versions are
those of the lock files, the licences what each package says of itself. Exit status 1 names the
parts whose licence is not known, or does not go with the program's own.
"""

import json
import re
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parent.parent
LOCKS = ("requirements.txt", "requirements-postgres.txt", "requirements-recordings.txt")
PIN = re.compile(r"^([a-z0-9][a-z0-9.-]*)(?:\[[a-z,]+\])?==([^ ;\\]+)", re.M)
VENDOR = re.compile(r"^(.+)-(\d[\d.]*)$")

# Licences by their SPDX names that go with MIT. "BSD" is one whose number of clauses is not said.
MAY = frozenset(
    {"0BSD", "Apache-2.0", "BSD", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT", "MIT-0"}
    | {"OFL-1.1", "PSF-2.0", "Zlib"}
)
# Those that may, for a reason that is about one part.
MAY_HERE = {
    ("fido2", "MPL-2.0"): "a list of domain names inside it, used as it is",
    ("psycopg", "LGPL-3.0-only"): "imported, not changed, and left out where SQLite is enough",
    ("psycopg-binary", "LGPL-3.0-only"): "the same",
}
# What packages write in place of an SPDX name.
READ_AS = {
    "BSD 3-Clause License": "BSD-3-Clause",
    "BSD License": "BSD",
    "MIT License": "MIT",
    "Apache Software License": "Apache-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
}
# Installed on other systems alone, so that nothing here can be asked.
ELSEWHERE = {"colorama": ["BSD-3-Clause"]}
OF_FILES = {"MIT License": "MIT", "SIL OPEN FONT LICENSE": "OFL-1.1"}


def licences_of(said: Any) -> list[str]:
    """Read from a package's metadata all licences that hold for it; [] where none is known."""
    if expression := said["License-Expression"]:
        # Of those joined by OR the first that may is chosen.
        each = [part.strip("() ").split(" OR ") for part in expression.split(" AND ")]
        return [next((one for one in some if one in MAY), some[0]) for some in each]
    written = (said["License"] or "").strip()
    if written in MAY or written in READ_AS:
        return [READ_AS.get(written, written)]
    classifiers = said.get_all("Classifier") or []
    named = [one.split(" :: ")[-1] for one in classifiers if one.startswith("License ::")]
    return [READ_AS.get(one, one) for one in named if one != "OSI Approved"]


def packages() -> Iterator[tuple[str, str, list[str]]]:
    """Give every package of a studio's lock files: its name, version and licences."""
    pins = {pin for lock in LOCKS for pin in PIN.findall((TOP / lock).read_text())}
    for name, version in sorted(pins):
        try:
            yield name, version, licences_of(metadata(name))
        except PackageNotFoundError:
            yield name, version, ELSEWHERE.get(name, [])


def files() -> Iterator[tuple[str, str, list[str]]]:
    """Give what others have made and we give out ourselves, read from the licence beside it."""
    for folder in sorted((TOP / "static" / "vendor").iterdir()):
        found = VENDOR.match(folder.name)
        name, version = found.groups() if found else (folder.name, "")
        words = "".join(
            path.read_text() for path in folder.glob("*") if path.stem in {"LICENSE", "OFL"}
        )
        yield name, version, [licence for sign, licence in OF_FILES.items() if sign in words]


def not_allowed(name: str, licences: list[str]) -> bool:
    """Whether a part's licence is not known, or does not go with ours."""
    return not licences or any(one not in MAY and (name, one) not in MAY_HERE for one in licences)


def document() -> dict[str, Any]:
    """Make the list of parts."""
    kinds = (("pypi", packages()), ("generic", files()))
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "components": [
            {
                "type": "library",
                "name": name,
                "version": version,
                "purl": f"pkg:{kind}/{name}@{version}",
                "licenses": [
                    {"license": {"name" if one == "BSD" else "id": one}} for one in licences
                ],
            }
            for kind, some in kinds
            for name, version, licences in some
        ],
    }


def main() -> int:
    """Print the list, and name what may not be in it."""
    print(json.dumps(document(), indent=1))
    wrong = [name for name, _, some in (*packages(), *files()) if not_allowed(name, some)]
    if wrong:
        print(f"Not known, or not for this program: {', '.join(wrong)}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
