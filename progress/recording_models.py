"""Recordings of held notes, and whether a student may make any.

`progress.models` imports this, which is where the rest of the program finds it.
"""

from secrets import token_hex
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django_scopes import ScopedManager

from routines.models import Block
from studio.models import Grant, Public, Student, User

STATES = ("waiting", "measuring", "measured", "refused")


def new_file_name() -> str:
    """Make a name that says nothing and that nobody can guess."""
    return token_hex(16)


class RecordingLeave(models.Model):
    """Whether a student may record; a row is made when a teacher first says so.

    A child needs a parent's yes: its date, and how it was given. `asked_for` is the block with
    which the teacher asks for a recording.
    """

    student = models.OneToOneField(
        Student, on_delete=models.CASCADE, related_name="recording_leave"
    )
    is_on = models.BooleanField(default=False)
    agreed_on = models.DateField(null=True, blank=True)
    agreed_how = models.CharField(max_length=120, blank=True)
    keep_days = models.PositiveSmallIntegerField(default=60)
    asked_for = models.ForeignKey(Block, null=True, blank=True, on_delete=models.SET_NULL)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    changed_at = models.DateTimeField()

    objects: ClassVar[models.Manager["RecordingLeave"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(keep_days__gte=1, keep_days__lte=365), name="recording_kept_for_days"
            ),
        )

    def __str__(self) -> str:
        return f"{self.student}: {'on' if self.is_on else 'off'}"


class Recording(Public):
    """One recording of a few held notes. Its sound goes after `kept_until`; its figures stay.

    `file` names what lies outside the database, "" once that is gone. `asked` is what was to be
    played: sounding MIDI numbers, tempo, counts. `processing` is what the browser said of itself.
    `sha256` is of the bytes as they came.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    block = models.ForeignKey(Block, null=True, blank=True, on_delete=models.SET_NULL)
    grant = models.ForeignKey(Grant, null=True, blank=True, on_delete=models.SET_NULL)
    key = models.UUIDField()
    day = models.DateField()
    received_at = models.DateTimeField()
    kept_until = models.DateField()
    state = models.CharField(max_length=10, default="waiting")
    taken_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    file = models.CharField(max_length=32, blank=True, default=new_file_name)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    processing = models.JSONField(default=dict)
    asked = models.JSONField(default=dict)
    refusal = models.CharField(max_length=200, blank=True)
    figures = models.JSONField(null=True, blank=True)
    curves = models.JSONField(null=True, blank=True)

    objects: ClassVar[models.Manager["Recording"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "key"), name="recording_key_once"),
            models.CheckConstraint(condition=Q(state__in=STATES), name="recording_state_known"),
        )
        indexes = (
            models.Index(fields=("state", "received_at"), name="recording_that_waits"),
            models.Index(fields=("student", "day"), name="recording_of_student"),
        )

    def __str__(self) -> str:
        return f"{self.student} on {self.day}: {self.state}"
