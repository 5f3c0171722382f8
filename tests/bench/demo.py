"""How soon `make demo` answers, once it has been set up."""

import os
import signal
import subprocess
import sys
import tempfile
import time

from tests import tree
from tests.bench.load import Ask, once
from tests.bench.server import PATIENCE_SECONDS, environment
from tests.ports import free_port


def starts(rounds: int) -> list[float]:
    """Start the demo so many times; give the seconds until its first page was answered.

    The start that fills the studio and collects the static files is not among them.
    """
    with tempfile.TemporaryDirectory(prefix="filar-demo-") as var:
        return [_start(var) for _ in range(rounds + 1)][1:]


def _start(var: str) -> float:
    port, began = free_port(), time.monotonic()
    process = subprocess.Popen(
        [sys.executable, str(tree.TOP / ".ci" / "serve.py"), "demo"],
        env=environment() | {"FILAR_VAR": var, "PORT": str(port)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        while once(port, Ask(path="/sign-in", headers={})).errors:
            if process.poll() is not None or time.monotonic() > began + PATIENCE_SECONDS:
                raise RuntimeError("The demo does not answer. Type: make demo")
            time.sleep(0.02)
        return time.monotonic() - began
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait()
