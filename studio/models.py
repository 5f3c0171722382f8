"""Who: the people of a studio, their phones, and what keeps a student from playing.

Every row that belongs to a studio is read through a scoped manager, which raises outside
`access`'s door and shows one studio inside it.
"""

from datetime import time
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django_scopes import ScopedManager

from studio.account_manager import UserManager
from studio.erased_models import ErasedStudent
from studio.letter_models import Letter
from studio.limit_models import Tries
from studio.public import Public, new_public_id
from studio.team_models import AuditLine, Invitation
from studio.words import Role

__all__ = (
    "AuditLine",
    "Discomfort",
    "ErasedStudent",
    "Grant",
    "Interruption",
    "Invitation",
    "Letter",
    "Membership",
    "Offer",
    "Public",
    "SetupToken",
    "Student",
    "Studio",
    "Tries",
    "User",
    "new_public_id",
)


class User(AbstractBaseUser):
    """A teacher's account; students have none."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=80)
    look = models.CharField(max_length=10, blank=True)
    is_active = models.BooleanField(default=True)
    made_at = models.DateTimeField(auto_now_add=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    studio_names: list[str]  # put on by a form whose studio is not made yet
    objects = UserManager()

    def __str__(self) -> str:
        return self.name or self.email


class Studio(Public):
    """One teacher's studio, or several teachers' together."""

    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=60, default="UTC")
    day_ends_at = models.TimeField(default=time(4))
    back_fill_days = models.PositiveSmallIntegerField(default=7)
    note_naming = models.CharField(max_length=20, default="letters")
    link_hours = models.PositiveSmallIntegerField(default=72)
    caution = models.CharField(max_length=10, default="usual")
    keep_months = models.PositiveSmallIntegerField(default=24)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(back_fill_days__lte=14), name="studio_back_fill_two_weeks"
            ),
            models.CheckConstraint(
                condition=Q(link_hours__gte=1, link_hours__lte=168), name="studio_link_one_week"
            ),
            models.CheckConstraint(
                condition=Q(keep_months__gte=12, keep_months__lte=60), name="studio_keeps_years"
            ),
        )

    def __str__(self) -> str:
        return self.name


class Membership(Public):
    """A teacher's place in a studio; a cover teacher reads until an end date.

    A place that was given up keeps its row, so that the record of changes can name it.
    `own_students_only` is a filter over this teacher's lists and hides nothing from them.
    """

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE)
    user = models.ForeignKey(User, on_delete=models.CASCADE)
    role = models.CharField(max_length=20, default="teacher")
    ends_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    own_students_only = models.BooleanField(default=False)
    letters_on_mondays = models.BooleanField(default=True)
    letters_at_once = models.BooleanField(default=True)
    made_at = models.DateTimeField(auto_now_add=True)

    has_second_factor: bool  # put on by the door
    objects: ClassVar[models.Manager["Membership"]] = ScopedManager(studio="studio")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("studio", "user"), name="membership_once"),)

    def __str__(self) -> str:
        return f"{self.user} in {self.studio}"

    @property
    def may_change(self) -> bool:
        """Whether this teacher may write: a cover teacher reads and changes nothing."""
        return self.role != Role.COVER

    @property
    def is_owner(self) -> bool:
        """Whether this teacher says who teaches in the studio."""
        return self.role == Role.OWNER


class Student(Public):
    """A student: a first name, what they play, and nothing that is not needed."""

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE)
    name = models.CharField(max_length=80)
    instrument = models.CharField(max_length=40)
    clef = models.CharField(max_length=10, blank=True)
    four_valves = models.BooleanField(null=True, blank=True)
    compensating = models.BooleanField(null=True, blank=True)
    f_attachment = models.BooleanField(null=True, blank=True)
    child = models.BooleanField(default=True)
    grade = models.CharField(max_length=20, default="beginner")
    group = models.CharField(max_length=80, blank=True)
    lesson_day = models.PositiveSmallIntegerField(null=True, blank=True)
    parent_email = models.EmailField(blank=True)
    consent_on = models.DateField(null=True, blank=True)
    consent_how = models.CharField(max_length=120, blank=True)
    note_naming = models.CharField(max_length=20, blank=True)
    teacher = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL)
    parents_see_hurts = models.BooleanField(default=False)
    remind_parent = models.BooleanField(default=False)
    archived_on = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[models.Manager["Student"]] = ScopedManager(studio="studio")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(lesson_day__isnull=True) | Q(lesson_day__lte=6),
                name="student_lesson_day_of_week",
            ),
        )
        indexes = (models.Index(fields=("studio", "archived_on"), name="student_of_studio"),)

    def __str__(self) -> str:
        return self.name

    @property
    def may_use_a_phone(self) -> bool:
        """Whether a phone may be set up: a child needs a parent's consent first."""
        return self.consent_on is not None or not self.child


class Interruption(Public):
    """What keeps a student from the plan for a while: away, ill, a mouth event, a light week."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    kind = models.CharField(max_length=20)
    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True)
    told_by_student = models.BooleanField(default=False)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[models.Manager["Interruption"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="interruption_ends_after_it_begins",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} from {self.first_day}"


class Discomfort(Public):
    """Something hurt. It stays open until a teacher closes it; time or a good day does not."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    key = models.UUIDField()
    day = models.DateField()
    told_at = models.DateTimeField()
    place = models.CharField(max_length=20, blank=True)
    how_much = models.CharField(max_length=10, blank=True)
    in_session = models.BooleanField(default=False)
    step = models.PositiveSmallIntegerField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL)
    spoken_with_family = models.BooleanField(null=True, blank=True)

    objects: ClassVar[models.Manager["Discomfort"]] = ScopedManager(studio="student__studio")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("student", "key"), name="discomfort_key_once"),
        )
        indexes = (models.Index(fields=("student", "closed_at"), name="discomfort_open"),)

    def __str__(self) -> str:
        return f"{self.place or 'something'} hurt on {self.day}"


class Offer(Public):
    """A link, QR code or typed code that sets up one phone, once. Only hashes are kept.

    Three symbols of a typed code find it; the others are hashed slowly and may be typed wrong five
    times, since a person can type only so many of them.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    kind = models.CharField(max_length=10)
    token_hash = models.CharField(max_length=80, unique=True)
    code_finder = models.CharField(max_length=3, blank=True, db_index=True)
    code_hash = models.CharField(max_length=128, blank=True)
    code_tries = models.PositiveSmallIntegerField(default=0)
    made_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[models.Manager["Offer"]] = ScopedManager(studio="student__studio")

    def __str__(self) -> str:
        return f"{self.kind} for {self.student}"


class Grant(Public):
    """A phone that may act for one student. Only the secret's hash is kept."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE)
    offer = models.ForeignKey(Offer, null=True, on_delete=models.SET_NULL)
    kind = models.CharField(max_length=10, default="student")
    state = models.CharField(max_length=12, default="provisional")
    secret_hash = models.CharField(max_length=80)
    next_secret_hash = models.CharField(max_length=80, blank=True)
    secret_is_new = models.BooleanField(default=False)
    label = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    expires_at = models.DateTimeField()

    objects: ClassVar[models.Manager["Grant"]] = ScopedManager(studio="student__studio")

    class Meta:
        indexes = (models.Index(fields=("student", "state"), name="grant_of_student"),)

    def __str__(self) -> str:
        return f"{self.label} of {self.student}"

    @property
    def is_out(self) -> bool:
        """Whether it opens nothing any more: it was signed out or refused, or its time is over."""
        return self.ended_at is not None or self.expires_at <= timezone.now()


class SetupToken(models.Model):
    """The token that opens the first-run page of an empty studio. Only its hash is kept."""

    token_hash = models.CharField(max_length=80, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"made {self.made_at:%Y-%m-%d}"
