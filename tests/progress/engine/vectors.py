"""The worked values of tests/data/readiness_vectors.json, each with its source there."""

import json
from datetime import date
from pathlib import Path
from typing import Any

from progress.engine import evidence_json
from progress.engine.evidence import Evidence

FILE = Path(__file__).parents[2] / "data" / "readiness_vectors.json"
VECTORS: dict[str, Any] = json.loads(FILE.read_text())
SCENARIOS: list[dict[str, Any]] = VECTORS["scenarios"]


def named(name: str) -> dict[str, Any]:
    """Return the scenario of a name."""
    (scenario,) = (found for found in SCENARIOS if found["input"]["id"] == name)
    return scenario


def evidence(scenario: dict[str, Any]) -> Evidence:
    """Return what a scenario gives to the engine."""
    return evidence_json.read(scenario["input"]).evidence


def day(scenario: dict[str, Any]) -> date:
    """Return the day a scenario asks for."""
    return date.fromisoformat(scenario["today"])
