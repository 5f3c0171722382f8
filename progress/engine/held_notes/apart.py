"""Measuring a file in a process of its own, with bounds on its memory and its time.

What decodes files from strangers may be made to crash, to loop or to eat memory; here the worst it
can do is to end its own process. Nothing of numpy is loaded on this side.
"""

import base64
import json
import os
import subprocess
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from progress.engine.held_notes.limits import Limits, RecordingError
from progress.engine.held_notes.request import Request

TOP = Path(__file__).resolve().parents[3]
MODULE = "progress.engine.held_notes"
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_KEPT = ("PATH", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "SYSTEMROOT", "TMPDIR")


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A recording to keep: its figures, its curves, and its sound as we wrote it (FLAC)."""

    figures: dict[str, Any]
    curves: dict[str, Any]
    sound: bytes


def measure_file(path: Path, request: Request, limits: Limits) -> dict[str, Any]:
    """Measure a recording apart from this process and give the JSON object: RecordingError."""
    measured: dict[str, Any] = _ask(path, request, limits, keeps=False)["measured"]
    return measured


def measure_to_keep(path: Path, request: Request, limits: Limits) -> Kept:
    """Measure a recording and have it written anew, all apart from this process: RecordingError."""
    told = _ask(path, request, limits, keeps=True)
    return Kept(
        figures=told["measured"], curves=told["curves"], sound=base64.b64decode(told["sound"])
    )


def _ask(path: Path, request: Request, limits: Limits, *, keeps: bool) -> dict[str, Any]:
    order = {"path": str(path.absolute()), "request": asdict(request), "limits": asdict(limits)}
    try:
        done = subprocess.run(  # noqa: S603 - our own module; the path goes in on standard input
            [sys.executable, "-m", MODULE],
            input=json.dumps(order | {"keeps": keeps}).encode(),
            capture_output=True,
            timeout=limits.patience_seconds,
            cwd=TOP,
            env=_environment(),
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise RecordingError(
            f"not measured within {limits.patience_seconds:g} seconds: record fewer notes."
        ) from error
    return _answer(done)


def _environment() -> dict[str, str]:
    """Hand over no more than the process needs; its libraries work with one thread."""
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    return kept | dict.fromkeys(_ONE_THREAD, "1") | {"PYTHONDONTWRITEBYTECODE": "1"}


def _answer(done: subprocess.CompletedProcess[bytes]) -> dict[str, Any]:
    try:
        answer: dict[str, Any] = json.loads(done.stdout)
    except ValueError:
        answer = {}
    if "refused" in answer:
        raise RecordingError(str(answer["refused"]))
    if done.returncode or "measured" not in answer:
        missing = _missing(done.stderr)
        raise RecordingError(missing or "it could not be measured: record it again.")
    return answer


def _missing(trouble: bytes) -> str | None:
    """Tell apart a studio that has not installed what measuring needs."""
    if b"ModuleNotFoundError" not in trouble:
        return None
    return "measuring needs numpy, scipy and soundfile: install requirements-recordings.txt."
