"""What is played: a student's month-long blocks and the versions of each."""

from datetime import date, timedelta
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django_scopes import ScopedManager

from routines.engine import dynamics, plan, walk
from routines.engine.instruments import Clef, Setup
from studio.models import Public, Student, User


class Block(Public):
    """A month's assignment of one student, on the instrument it was made for."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    instrument = models.CharField(max_length=40)
    first_day = models.DateField()
    length_days = models.PositiveSmallIntegerField(default=28)
    extra_days = models.PositiveSmallIntegerField(default=0)
    weekdays_off = models.JSONField(default=list)
    ended_on = models.DateField(null=True, blank=True)
    variant = models.CharField(max_length=20)
    aim = models.CharField(max_length=20, blank=True)
    message = models.CharField(max_length=500, blank=True)
    batch = models.CharField(max_length=16)
    ended_by_batch = models.CharField(max_length=16, blank=True)
    made_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    made_at = models.DateTimeField()

    objects: ClassVar[models.Manager["Block"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(
                    length_days__gte=plan.LENGTH_LIMITS[0], length_days__lte=plan.LENGTH_LIMITS[1]
                ),
                name="block_length_in_days",
            ),
            models.UniqueConstraint(
                fields=("student", "first_day"),
                condition=Q(ended_on__isnull=True),
                name="block_day_once",
            ),
            models.UniqueConstraint(fields=("student", "batch"), name="block_batch_once"),
        )
        indexes = (models.Index(fields=("student", "first_day"), name="block_of_student"),)

    def __str__(self) -> str:
        return f"{self.student} from {self.first_day}"

    @property
    def month(self) -> plan.Month:
        """The days of the block in the engine's words; a block that was replaced ends sooner."""
        return plan.Month(
            first_day=self.first_day,
            length_days=self.length_days,
            weekdays_off=frozenset(self.weekdays_off),
            extra_days=self.extra_days,
        )

    @property
    def last_day(self) -> date:
        """The last day the block is due, with the days that pauses added."""
        planned = self.first_day + timedelta(days=self.length_days + self.extra_days - 1)
        return planned if self.ended_on is None else min(planned, self.ended_on)


class BlockVersion(models.Model):
    """What a block asks from a day on. An edit makes a new one, and past days keep theirs."""

    block = models.ForeignKey(Block, on_delete=models.CASCADE, related_name="versions")
    from_day = models.DateField()
    start_note = models.PositiveSmallIntegerField()
    low_note = models.PositiveSmallIntegerField()
    top_note = models.PositiveSmallIntegerField(null=True, blank=True)
    back = models.CharField(max_length=20)
    hold = models.PositiveSmallIntegerField()
    rest = models.PositiveSmallIntegerField()
    tempo = models.PositiveSmallIntegerField()
    dynamics = models.CharField(max_length=40)
    clef = models.CharField(max_length=10, blank=True)
    four_valves = models.BooleanField(null=True, blank=True)
    compensating = models.BooleanField(null=True, blank=True)
    f_attachment = models.BooleanField(null=True, blank=True)
    made_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    made_at = models.DateTimeField()

    objects: ClassVar[models.Manager["BlockVersion"]] = ScopedManager(
        studio="block__student__studio"
    )

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("block", "from_day"), name="block_version_day_once"),
            models.CheckConstraint(
                condition=Q(hold__gte=plan.HOLD_LIMITS[0], hold__lte=plan.HOLD_LIMITS[1])
                & Q(rest__gte=plan.REST_LIMITS[0], rest__lte=plan.REST_LIMITS[1])
                & Q(tempo__gte=plan.TEMPO_LIMITS[0], tempo__lte=plan.TEMPO_LIMITS[1]),
                name="block_version_playable",
            ),
            models.CheckConstraint(
                condition=Q(low_note__lte=F("start_note"))
                & (Q(top_note__isnull=True) | Q(top_note__gte=F("start_note"))),
                name="block_version_low_start_top",
            ),
        )

    def __str__(self) -> str:
        return f"hold {self.hold}, rest {self.rest} from {self.from_day}"

    @property
    def plan(self) -> plan.BlockPlan:
        """What is asked, in the engine's words."""
        return plan.BlockPlan(
            instrument=self.block.instrument,
            start_note=self.start_note,
            low_note=self.low_note,
            top_note=self.top_note,
            back=walk.WayBack(self.back),
            hold=self.hold,
            rest=self.rest,
            tempo=self.tempo,
            dynamics=dynamics.parse(self.dynamics),
            setup=Setup(
                clef=Clef(self.clef) if self.clef else None,
                four_valves=self.four_valves,
                compensating=self.compensating,
                f_attachment=self.f_attachment,
            ),
        )
