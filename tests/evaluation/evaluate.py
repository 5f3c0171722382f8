"""``python -m tests.evaluation.evaluate``: how the assessment does on invented students.

Prints the table and writes docs/evaluation.md. The same seeds give the same page.
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random
from typing import Any

from progress.engine.evidence import Evidence
from tests.evaluation import page
from tests.evaluation.measures import Case, judged, measured
from tests.evaluation.people import PARAMETERS, PROFILES, Person, logit, person
from tests.evaluation.reports import evidence
from tests.evaluation.rules import RULES, assessment

DOCUMENT = Path(__file__).parents[2] / "docs" / "evaluation.md"
STUDENTS = 400
FIRST_SEED = 1001
COHORTS = 10
# What the simulator is told beside its own figures; reported, not judged.
VARIATIONS: dict[str, dict[str, Any]] = {
    "the teacher's ear twice as noisy": {
        "teacher_noise": 2 * PARAMETERS["teacher_noise"],
        "teacher_common": 2 * PARAMETERS["teacher_common"],
    },
    "the teacher's 4 means 80 %": {"teacher_shift": logit(0.85) - logit(0.80)},
    "the teacher's 4 means 90 %": {"teacher_shift": logit(0.85) - logit(0.90)},
    "own ratings half a logit higher": {"bias_shift": 0.5},
    "own ratings half as noisy again": {"self_noise": 1.5 * PARAMETERS["self_noise"]},
    "skill wanders twice as far": {"wander_sd": 2 * PARAMETERS["wander_sd"]},
}
VARIED_COHORTS = 3


def cohort(
    seed: int, parameters: dict[str, Any] = PARAMETERS, students: int = STUDENTS
) -> Iterator[tuple[Person, Evidence]]:
    """Invent a cohort: every profile in turn, so that each has the same number within one."""
    random = Random(seed)  # noqa: S311 - invented students, no secrets
    names = list(PROFILES)
    for place in range(students):
        one = person(names[place % len(names)], random, parameters)
        yield one, evidence(one, random, parameters)


def main(arguments: Sequence[str] | None = None) -> None:
    """Evaluate, print and write the page."""
    parser = argparse.ArgumentParser(description="Evaluate the assessment on invented students.")
    parser.add_argument("--cohorts", type=int, default=COHORTS)
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    parser.add_argument("--no-page", action="store_true", help="print only")
    asked = parser.parse_args(arguments)
    began = time.perf_counter()
    seeds = range(asked.seed, asked.seed + asked.cohorts)
    by_rule: dict[str, list[dict[str, float | None]]] = {name: [] for name in RULES}
    cases: list[Case] = []
    for seed in seeds:
        people = list(cohort(seed))
        for name, rule in RULES.items():
            found = judged(people, rule)
            by_rule[name].append(measured(found))
            cases += found if rule is assessment else []
    varied = {name: _varied(changes, seeds) for name, changes in VARIATIONS.items()}
    text = page.written(
        seeds=seeds,
        students=STUDENTS,
        rules=by_rule,
        cases=cases,
        varied=varied,
    )
    print(text)  # noqa: T201 - this is a command
    print(f"{time.perf_counter() - began:.0f} s")  # noqa: T201
    if not asked.no_page:
        DOCUMENT.write_text(text)


def _varied(changes: dict[str, Any], seeds: range) -> list[dict[str, float | None]]:
    parameters = {**PARAMETERS, **changes}
    return [
        measured(judged(list(cohort(seed, parameters)), assessment))
        for seed in seeds[:VARIED_COHORTS]
    ]


if __name__ == "__main__":
    main()
