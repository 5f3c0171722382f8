"""The same again: each student gets the own last block once more."""

from datetime import datetime
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from routines.engine.variants import Aim
from routines.forms.who import ForStudents
from routines.same_again import Again, same_again
from routines.services.assign import IfRunning, Order, Own
from studio.models import Student, User


class AgainForm(ForStudents):
    """For whom; what each of them gets stands in `rows`, from the day after the last one ends."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows: list[Again] = same_again(self.chosen, self.today)

    @property
    def kept(self) -> list[tuple[str, Any]]:
        """What was typed for a block of its own, to come back to: names and values."""
        typed = self.data if self.is_bound else self.initial
        return [
            (name, value)
            for name in typed
            if name in COMES_BACK
            for value in (
                typed.getlist(name) if isinstance(typed, QueryDict) else _all(typed[name])
            )
        ]

    @property
    def without_a_block(self) -> list[Student]:
        """The chosen students who have had no block that could be played again."""
        there = {row.student.pk for row in self.rows}
        return [student for student in self.chosen if student.pk not in there]

    def check_for_assigning(self) -> bool:
        """Hold the form against what assigning needs: students, each with a block behind them."""
        self.refuse_nobody()
        if missing := self.without_a_block:
            names = ", ".join(student.name for student in missing)
            self.add_error(
                "students",
                _(
                    "%(names)s: no block yet, so there is nothing to play again. Take the tick "
                    "out, or write one block for all."
                )
                % {"names": names},
            )
        return self.is_valid()

    def order(self, *, by: User, moment: datetime) -> Order:
        """Write the order: every student's own plan and month, each after the last one ends."""
        return Order(
            plans=[(row.student, row.plan) for row in self.rows],
            month=self.rows[0].month,
            by=by,
            moment=moment,
            batch=self.cleaned_data["batch"],
            message=self.cleaned_data["message"],
            if_running=IfRunning.AFTER,
            own={
                row.student.pk: Own(
                    month=row.month, aim=Aim(row.block.aim) if row.block.aim else None
                )
                for row in self.rows
            },
        )


def _all(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


COMES_BACK = (
    "instrument", "pitch", "hold", "rest", "tempo", "start_note", "low_note", "top_note", "back",
    "dynamics", "first_day", "length_days", "weekdays_off", "aim",
)  # fmt: skip
