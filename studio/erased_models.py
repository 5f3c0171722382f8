"""Who has been erased: known again by a hash, so that no older copy brings a child back.

`studio.models` imports this, which is where the rest of the program finds it.
"""

from django.db import models


class ErasedStudent(models.Model):
    """One student who was erased for good: the hash of the random id, and nothing of the child.

    It leads to no studio by a key of the database, so it outlives the studio's own rows; `studio`
    is that studio's random id.
    """

    student_hash = models.CharField(max_length=80, unique=True)
    studio = models.CharField(max_length=16)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"erased {self.at:%Y-%m-%d}"
