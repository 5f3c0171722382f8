"""docs/evaluation.md, written from the figures of a run."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from tests.evaluation.measures import CHECKED_DAYS, Case, calibration, outcomes
from tests.evaluation.people import PROFILES
from tests.evaluation.sudden import REAL_FALL, sudden

Measures = Mapping[str, float | None]


@dataclass(frozen=True, slots=True)
class Target:
    """What the assessment must reach."""

    bound: float
    at_least: bool = False

    def is_met(self, value: float) -> bool:
        """Whether a figure reaches it."""
        return value >= self.bound if self.at_least else value <= self.bound

    def __str__(self) -> str:
        return f"{'at least' if self.at_least else 'at most'} {_figure(self.bound)}"


TARGETS = {
    "false of first flags": Target(0.13),
    "never-ready students ever flagged": Target(0.04),
    "missed at block end": Target(0.42),
    "missed at block end, heard every week": Target(0.38),
    "median delay, days": Target(7),
    "ready said within 7 days after a pain": Target(0),
    "changes per student-month": Target(0.35),
    "ready students told to repeat": Target(0.07),
    "not-ready students told to repeat": Target(0.65, at_least=True),
    "Brier score, days 14, 21 and 28": Target(0.112),
    "calibration error, five bins": Target(0.06),
}
HEAD = """# How the assessment does on invented students

Written by `make evaluate`; do not edit by hand. **This is a simulation.** Every figure below was
measured on invented students whose true skill is known because it was invented too. No real student
has been measured, and no page of the program quotes these figures.

{cohorts} cohorts of {students} students, seeds {first} to {last}, blocks of 28 to 31 days. Every
profile has the same share of a cohort. Half of the students are heard every week, three in ten at
two lessons, one in five at one. A student is ready on a day when, on all four criteria, the mean
true chance of a good note over that day and the six after it is at least 85 %.

## The targets

Mean over the cohorts, lowest and highest in brackets. "Met" goes by the mean; behind it stands how
many of the cohorts reach the target each on their own. The two other rules go by the same reports;
they name no chance, so a flag counts as 1 and none as 0.

"""
WORDS = """
- A flag is the first day on which a rule says "may be ready". It is false when the student is ready
  on no day from then to seven days later.
- Never-ready students are ready on no day of the block.
- Missed counts students who are ready on each of the last seven days, without pain in them, and not
  flagged on the last day: about {due} in a cohort, so that one cohort alone swings by several
  hundredths.
- The delay runs from the first ready day, or from day 11 if that is later, to a flag that is not
  false. It is below nought where a flag came before.
- Changes are from ready to not ready or back.
- Told to repeat is looked at on the last day.
- The Brier score is the mean squared gap between the chance said and the truth. Always saying the
  base rate, {base}, would score {always}.

## What was said and what was true

Days {days}, all cohorts together.

| said, on the mean | true | student-days |
|---|---|---|
"""
SHARES = """
## Outcomes

Share of all student-days.

| outcome | share |
|---|---|
"""
BY_PROFILE = """
## By profile

All cohorts together. What a profile is stands in `tests/evaluation/simulator.json`.

| profile | students | ready on the last day | ever flagged | false flags |
|---|---|---|---|---|
"""
SUDDEN = """
## Sudden changes

"Look in" also names whoever's own answers fell of a sudden: the median of the last three check-ins
is at least 1 below that of up to seven before, on two rows. This is a rule of the program and no
estimate. Three days are few, so most of what it sees is the up and down of practice: of noise alone
is a change during which the true chance of a good note fell by less than {fall} on all but one of
the four. In a studio of forty, two or three are shown on a day. The row says "look in" and the
figures, decides nothing, and goes by itself.

| profile | begun in a student-month | shown, of check-ins | of noise alone |
|---|---|---|---|
"""
VARIED = """
## When the assumptions are wrong

Reported, not judged: the assessment as it is, on students invented otherwise, from the first
{count} seeds.

| what is different | false of first flags | missed at block end | Brier score |
|---|---|---|---|
"""
TAIL = """
Noise, mood and the bias of own ratings hardly matter. What matters is the teacher's ear, and that a
4 means 8 or 9 notes of ten: hence the words beside the buttons, the same for student and teacher,
and "at your 4" beside every chance.

## What this does not show

- That invented students behave as real ones do. The learning curve, the size of the bias in own
  ratings and the way pain comes are assumptions.
- Whether the caution (ease off), the choice of a variant and the cap on playing help. They are
  rules of prudence; nothing here measures them.
- The mix of a real studio. The shares above depend on equal numbers of each profile; a real studio
  has fewer of the odd ones.
- The figures of the assessment were tuned on students invented in much the same way as these.
"""


def written(
    *,
    seeds: range,
    students: int,
    rules: Mapping[str, Sequence[Measures]],
    cases: Sequence[Case],
    varied: Mapping[str, Sequence[Measures]],
) -> str:
    """Write the page; ``rules`` has the measures of each rule by cohort, the assessment first."""
    ours = next(iter(rules.values()))
    base = fmean(_values(ours, "base rate"))
    checked = [
        (case.verdicts[day].chance, case.person.ready[day])
        for case in cases
        for day in CHECKED_DAYS
    ]
    count = min(map(len, varied.values()))
    first, second, third = (day + 1 for day in CHECKED_DAYS)
    parts = [
        HEAD.format(cohorts=len(seeds), students=students, first=seeds[0], last=seeds[-1]),
        f"| measure | target | {' | '.join(rules)} | met |\n",
        f"|---|---|{'---|' * len(rules)}---|\n",
        *(_row(name, target, rules) for name, target in TARGETS.items()),
        WORDS.format(
            base=_figure(base),
            due=round(sum(case.should_be_flagged for case in cases) / len(seeds)),
            always=_figure(base * (1 - base)),
            days=f"{first}, {second} and {third}",
        ),
        *(f"| {said:.2f} | {true:.2f} | {count} |\n" for said, true, count in calibration(checked)),
        SHARES,
        *(f"| {outcome} | {_figure(share)} |\n" for outcome, share in outcomes(cases).items()),
        BY_PROFILE,
        *(_profile(profile, cases) for profile in PROFILES),
        SUDDEN.format(fall=REAL_FALL),
        *(_sudden(profile, cases) for profile in ("all", *PROFILES)),
        VARIED.format(count=count),
        _varied("nothing", ours[:count]),
        *(_varied(name, found) for name, found in varied.items()),
        TAIL,
    ]
    return "".join(parts)


def _row(name: str, target: Target, rules: Mapping[str, Sequence[Measures]]) -> str:
    ours, *others = (_values(cohorts, name) for cohorts in rules.values())
    mean = fmean(ours)
    spread = f"{_figure(mean)} ({_figure(min(ours))} to {_figure(max(ours))})"
    cells = [spread, *(_figure(fmean(other)) if other else "–" for other in others)]
    met = "yes" if target.is_met(mean) else "**no**"
    alone = sum(target.is_met(value) for value in ours)
    return f"| {name} | {target} | {' | '.join(cells)} | {met}, {alone} of {len(ours)} |\n"


def _values(cohorts: Sequence[Measures], name: str) -> list[float]:
    """List a measure over the cohorts; one without anybody to count is left out."""
    return [value for measures in cohorts if (value := measures[name]) is not None]


def _profile(profile: str, cases: Sequence[Case]) -> str:
    of_it = [case for case in cases if case.person.profile == profile]
    ready = fmean(case.person.ready[case.last] for case in of_it)
    flagged = fmean(case.flag is not None for case in of_it)
    false = sum(case.is_false for case in of_it)
    name = profile.replace("_", " ")
    return f"| {name} | {len(of_it)} | {_figure(ready)} | {_figure(flagged)} | {false} |\n"


def _sudden(profile: str, cases: Sequence[Case]) -> str:
    of_it = [case for case in cases if profile in {"all", case.person.profile}]
    found = sudden(of_it)
    noise = "–" if found.of_noise is None else _figure(found.of_noise)
    name = profile.replace("_", " ")
    return f"| {name} | {_figure(found.begun)} | {_figure(found.standing)} | {noise} |\n"


def _varied(name: str, cohorts: Sequence[Measures]) -> str:
    shown = ("false of first flags", "missed at block end", "Brier score, days 14, 21 and 28")
    figures = (_figure(fmean(_values(cohorts, one))) for one in shown)
    return f"| {name} | {' | '.join(figures)} |\n"


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{value:.1f}"
