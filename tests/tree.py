"""The files of this project, as a fresh copy of it has them."""

import re
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
APPS = ("studio", "routines", "progress", "config")
TEXT = {".py", ".html", ".js", ".css", ".md", ".toml", ".txt", ".json", ".svg", ".csv", ""}

_IGNORED = [
    line.rstrip("/") for line in (TOP / ".gitignore").read_text().splitlines() if line.strip()
] + [".git"]


def children(folder: Path) -> list[Path]:
    """List what lies in a folder and is not left out by .gitignore."""
    return sorted(
        path
        for path in folder.iterdir()
        if not any(fnmatch(path.name, pattern) for pattern in _IGNORED)
    )


def files(*below: str, suffix: str = "") -> Iterator[Path]:
    """Go through the files under these paths of the project, or under all of it."""
    waiting = [TOP / name for name in below] if below else [TOP]
    while waiting:
        path = waiting.pop(0)
        if path.is_dir():
            waiting.extend(children(path))
        elif path.name.endswith(suffix):
            yield path


def texts() -> Iterator[Path]:
    """Go through everything that people write here: no pictures, fonts, or vendored files."""
    for path in files():
        if path.suffix in TEXT and "vendor" not in path.parts:
            yield path


def name(path: Path) -> str:
    """Name a file from the top of the project."""
    return path.relative_to(TOP).as_posix()


def matches(pattern: str, paths: Iterator[Path]) -> list[str]:
    """List every match of a regular expression as `file: what was found`."""
    return [
        f"{name(path)}: {found.group().strip()}"
        for path in paths
        for found in re.finditer(pattern, path.read_text(encoding="utf-8"))
    ]
