"""The engine of the assessment stands alone: no Django, no package, no clock, no file."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ENGINE = Path(__file__).parents[3] / "progress" / "engine"
# The package held_notes, which measures recordings, reads files with numpy and scipy: not these.
MODULES = sorted(path.stem for path in ENGINE.glob("*.py") if path.stem != "__init__")


@pytest.mark.parametrize("module", MODULES)
def test_a_module_loads_in_a_fresh_interpreter_without_any_package(module):
    script = (
        "import sys\n"
        f"import progress.engine.{module}\n"
        "tops = {name.partition('.')[0] for name in sys.modules}\n"
        "ours = {'__main__', 'progress', 'routines'}\n"
        "print(sorted(tops - set(sys.stdlib_module_names) - ours))\n"
    )

    # Without site-packages and without what a .pth file starts.
    run = subprocess.run(
        [sys.executable, "-S", "-c", script],
        cwd=ENGINE.parents[1],
        capture_output=True,
        text=True,
        check=True,
    )

    assert run.stdout.strip() == "[]"


def test_there_are_modules_to_look_at():
    assert {"evidence", "level", "readiness", "replay", "proposal"} <= set(MODULES)


@pytest.mark.parametrize("module", MODULES)
def test_a_module_asks_neither_the_clock_nor_a_file(module):
    tree = ast.parse((ENGINE / f"{module}.py").read_text())

    called = {
        node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute | ast.Name)
    }

    assert called & {"open", "read_text", "today", "now", "time", "monotonic", "getenv"} == set()
