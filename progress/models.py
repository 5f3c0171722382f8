"""What came of it: what students report and what teachers hear."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django_scopes import ScopedManager

from progress.recording_models import Recording, RecordingLeave
from routines.models import Block, BlockVersion
from studio.models import Grant, Public, Student, User

__all__ = (
    "RATINGS",
    "CheckIn",
    "Decision",
    "KeptMonth",
    "LessonRating",
    "NotToday",
    "Rated",
    "Recording",
    "RecordingLeave",
    "Report",
    "SetAside",
)

RATINGS = ("attack", "sound", "evenness", "release")


def _one_to_five() -> Q:
    """Build the rule that each of the four answers is 1 to 5 or not given."""
    rule = Q()
    for name in RATINGS:
        rule &= Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__gte": 1, f"{name}__lte": 5})
    return rule


class Rated(models.Model):
    """The four answers to "out of 10 notes, how many had …": 1 to 5, or not answered."""

    attack = models.PositiveSmallIntegerField(null=True, blank=True)
    sound = models.PositiveSmallIntegerField(null=True, blank=True)
    evenness = models.PositiveSmallIntegerField(null=True, blank=True)
    release = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        abstract = True


class CheckIn(Public, Rated):
    """What a student says about one practice day. A question not answered stays empty.

    Another row for the same day is a revision: both are kept, the latest `done_at` is shown.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    block = models.ForeignKey(Block, on_delete=models.RESTRICT)
    version = models.ForeignKey(BlockVersion, on_delete=models.RESTRICT)
    grant = models.ForeignKey(Grant, null=True, blank=True, on_delete=models.SET_NULL)
    key = models.UUIDField()
    day = models.DateField()
    done_at = models.DateTimeField()
    zone = models.CharField(max_length=60, blank=True)
    utc_offset_minutes = models.SmallIntegerField(null=True, blank=True)
    received_at = models.DateTimeField()
    source = models.CharField(max_length=10, default="phone")
    effort = models.PositiveSmallIntegerField(null=True, blank=True)
    discomfort = models.CharField(max_length=10, blank=True)
    place = models.CharField(max_length=20, blank=True)
    high_note = models.PositiveSmallIntegerField(null=True, blank=True)
    stopped_because = models.CharField(max_length=10, blank=True)
    completed = models.FloatField(null=True, blank=True)
    seconds = models.PositiveIntegerField(null=True, blank=True)
    trouble = models.JSONField(null=True, blank=True)
    words = models.CharField(max_length=500, blank=True)

    is_new = False  # put on by the service that has just made it
    objects: ClassVar[models.Manager["CheckIn"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "key"), name="check_in_key_once"),
            models.CheckConstraint(condition=_one_to_five(), name="check_in_ratings_one_to_five"),
            models.CheckConstraint(
                condition=Q(effort__isnull=True) | Q(effort__in=(2, 4, 6, 8, 10)),
                name="check_in_effort_by_twos",
            ),
            models.CheckConstraint(
                condition=Q(completed__isnull=True) | Q(completed__gte=0, completed__lte=1),
                name="check_in_completed_share",
            ),
        )
        indexes = (models.Index(fields=("student", "day"), name="check_in_of_day"),)

    def __str__(self) -> str:
        return f"{self.student} on {self.day}"


class KeptMonth(models.Model):
    """What is left of a calendar month whose check-ins are older than the studio keeps them.

    `month` is its first day. `days` were filed, on `hurt_days` of them something hurt; the four
    answers are means of 1 to 5 over the days that answered them, and `high_note` is the highest
    good note, as a written MIDI number.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    month = models.DateField()
    days = models.PositiveSmallIntegerField()
    hurt_days = models.PositiveSmallIntegerField()
    attack = models.FloatField(null=True, blank=True)
    sound = models.FloatField(null=True, blank=True)
    evenness = models.FloatField(null=True, blank=True)
    release = models.FloatField(null=True, blank=True)
    high_note = models.PositiveSmallIntegerField(null=True, blank=True)

    objects: ClassVar[models.Manager["KeptMonth"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "month"), name="kept_month_once"),
        )

    def __str__(self) -> str:
        return f"{self.month:%Y-%m} of {self.student}"


class SetAside(models.Model):
    """A check-in that a teacher set aside because it was filed for the wrong day.

    What was typed stays as it came. `moved_to` is the teacher's copy of it on another day; without
    one the check-in was taken out.
    """

    check_in = models.OneToOneField(CheckIn, on_delete=models.CASCADE, related_name="set_aside")
    moved_to = models.OneToOneField(
        CheckIn, null=True, blank=True, on_delete=models.CASCADE, related_name="moved_from"
    )
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    made_at = models.DateTimeField()

    objects: ClassVar[models.Manager["SetAside"]] = ScopedManager(
        studio="check_in__student__studio"
    )

    def __str__(self) -> str:
        where = self.moved_to.day if self.moved_to else "nowhere"
        return f"{self.check_in} to {where}"


class NotToday(Public):
    """A day on which the student says why there was no session."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    grant = models.ForeignKey(Grant, null=True, blank=True, on_delete=models.SET_NULL)
    day = models.DateField()
    reason = models.CharField(max_length=20)
    told_at = models.DateTimeField()

    objects: ClassVar[models.Manager["NotToday"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "day"), name="not_today_day_once"),
        )

    def __str__(self) -> str:
        return f"{self.student} not on {self.day}: {self.reason}"


class LessonRating(Public, Rated):
    """What the teacher heard at a lesson, on the same four rows as the student's check-in."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    block = models.ForeignKey(Block, on_delete=models.RESTRICT)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    day = models.DateField()
    filed_on = models.DateField()
    note = models.CharField(max_length=500, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[models.Manager["LessonRating"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "day"), name="lesson_rating_day_once"),
            models.CheckConstraint(condition=_one_to_five(), name="lesson_ratings_one_to_five"),
        )

    def __str__(self) -> str:
        return f"{self.student} heard on {self.day}"


class Decision(Public):
    """What a teacher decided at a month's end, with the evidence that stood on the page.

    One that was undone stays, as history. "Later" decides nothing, so a block may have several.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    block = models.ForeignKey(Block, on_delete=models.RESTRICT)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    decided_at = models.DateTimeField()
    choice = models.CharField(max_length=10)
    variables = models.JSONField(default=list)
    reason = models.CharField(max_length=500, blank=True)
    shown_to_student = models.BooleanField(default=False)
    seen = models.JSONField()
    next_block = models.OneToOneField(
        Block, null=True, blank=True, on_delete=models.SET_NULL, related_name="decided_by"
    )
    key = models.UUIDField()
    undone_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[models.Manager["Decision"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "key"), name="decision_key_once"),
            models.UniqueConstraint(
                fields=("block",),
                condition=Q(undone_at__isnull=True) & ~Q(choice="later"),
                name="decision_of_block_once",
            ),
            models.CheckConstraint(
                condition=Q(choice__in=("move on", "repeat", "change", "later")),
                name="decision_choice_known",
            ),
        )
        indexes = (models.Index(fields=("student", "decided_at"), name="decision_of_student"),)

    def __str__(self) -> str:
        return f"{self.student}: {self.choice} on {self.decided_at:%Y-%m-%d}"


class Report(Public):
    """The teacher's own words about a student's days; every figure beside them is read anew."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    first_day = models.DateField()
    last_day = models.DateField()
    words = models.CharField(max_length=1500, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    changed_at = models.DateTimeField()

    objects: ClassVar[models.Manager["Report"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("student", "first_day", "last_day"), name="report_of_days_once"
            ),
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="report_ends_after_it_begins"
            ),
        )

    def __str__(self) -> str:
        return f"{self.student} from {self.first_day} to {self.last_day}"
