"""Make .venv if it is missing and install one lock file into it, if that lock has changed.

`python3 .ci/install.py requirements.txt`: standard library only, started by the system's Python.
What was installed last is noted inside .venv, one file a lock.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
VENV = TOP / ".venv"
PYTHON = VENV / "bin" / "python"
OLDEST = (3, 11)


def stop(message: str) -> None:
    """End with one clear line on standard error."""
    sys.exit(message)


def check_python() -> None:
    """Stop where this Python is too old or comes without its venv part."""
    if sys.version_info < OLDEST:
        stop(f"Python {sys.version.split()[0]} is too old: install Python 3.11 or newer.")
    if find_spec("venv") is None or find_spec("ensurepip") is None:
        sudo = "" if os.geteuid() == 0 else "sudo "
        stop(f"Python's venv part is missing. Type: {sudo}apt-get install -y python3-venv")


def works() -> bool:
    """Tell whether .venv is whole: an interrupted or moved one has no pip that starts."""
    if not PYTHON.exists():
        return False
    answer = subprocess.run([PYTHON, "-m", "pip", "--version"], capture_output=True, check=False)
    return answer.returncode == 0


def run(*command: str | Path) -> None:
    """Run a step; when it fails its own words are on the screen, so only end."""
    done = subprocess.run(command, cwd=TOP, stdin=subprocess.DEVNULL, check=False)
    if done.returncode:
        stop(f"This step failed: {' '.join(map(str, command))}")


def stamp(lock: Path) -> Path:
    """Name the file inside .venv that says which state of a lock file was installed."""
    return VENV / f"installed-{lock.stem}"


def digest(lock: Path) -> str:
    """Sum up a lock file."""
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def is_installed(lock: Path) -> bool:
    """Tell whether a lock file has been installed as it is now."""
    return stamp(lock).is_file() and stamp(lock).read_text() == digest(lock)


def pins(lock: Path) -> set[str]:
    """List what a lock file pins, as name==version."""
    return {line.split()[0] for line in lock.read_text().splitlines() if line[:1].isalnum()}


def is_there(lock: Path) -> bool:
    """Tell whether all that a lock file pins came with it or with a larger one."""
    return PYTHON.exists() and any(
        is_installed(other) and pins(lock) <= pins(other) for other in TOP.glob("requirements*.txt")
    )


def main(name: str) -> None:
    """Bring .venv up to the lock file of that name."""
    lock = TOP / name
    if is_there(lock):
        return
    check_python()
    if not works():
        print("Making .venv", flush=True)
        if VENV.exists():
            shutil.rmtree(VENV)
        run(sys.executable, "-m", "venv", VENV)
    print(f"Installing {name}; the first time takes a minute or two", flush=True)
    quiet = ("-qq", "--no-input", "--disable-pip-version-check")
    run(PYTHON, "-m", "pip", "install", *quiet, "--require-hashes", "-r", lock)
    stamp(lock).write_text(digest(lock))


if __name__ == "__main__":
    main(sys.argv[1])
