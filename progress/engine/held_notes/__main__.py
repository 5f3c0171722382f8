"""The process that `apart` starts: an order as JSON on standard input, an answer as JSON out."""

import base64
import contextlib
import json
import sys
from pathlib import Path
from typing import Any

from progress.engine.held_notes.limits import Limits, RecordingError
from progress.engine.held_notes.request import Request, RequestError


def bound(limits: Limits) -> None:
    """Bound this process's memory and time, and forbid it to write files."""
    with contextlib.suppress(ImportError):
        import resource  # noqa: PLC0415 - Unix alone has it; elsewhere the parent's clock holds

        for what, most in (
            (resource.RLIMIT_AS, limits.memory_bytes),
            (resource.RLIMIT_CPU, limits.cpu_seconds),
            (resource.RLIMIT_FSIZE, 0),
            (resource.RLIMIT_CORE, 0),
        ):
            resource.setrlimit(what, (most, most))


def answer(order: dict[str, Any]) -> dict[str, Any]:
    """Measure what was ordered, or say why not."""
    limits = Limits(**order["limits"] | {"rates": tuple(order["limits"]["rates"])})
    bound(limits)
    # Loaded behind the bounds, and only here: the server never loads them.
    from progress.engine.held_notes import analysis, curves, reading, signals  # noqa: PLC0415
    from progress.engine.held_notes.answer import as_json  # noqa: PLC0415

    try:
        asked = order["request"] | {"expected": tuple(order["request"]["expected"])}
        recording = reading.read(Path(order["path"]), limits)
        measured = analysis.measure(
            recording.samples,
            recording.rate,
            Request(**asked),
            eight_bits=recording.eight_bits,
        )
        told: dict[str, Any] = {"measured": as_json(measured)}
        if order.get("keeps"):
            clip = signals.bands(signals.mix(recording.samples), recording.rate)
            told["curves"] = curves.curves_of(clip, measured, told["measured"])
            told["sound"] = base64.b64encode(curves.sound_of(clip)).decode()
        return told
    except (RecordingError, RequestError) as error:
        return {"refused": str(error)}
    except MemoryError:
        return {"refused": "it needs more memory than allowed: record fewer notes."}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(answer(json.load(sys.stdin)), allow_nan=False))
