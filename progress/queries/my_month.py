"""What a month says of itself to the student and the family: rows become the engine's types."""

from progress.engine.high_notes import HighNote, high_points
from progress.engine.kind_words import Answers, KindWord, kind_words
from progress.models import RATINGS
from progress.queries.months import StudentMonth


def kind_words_of(month: StudentMonth) -> tuple[KindWord, ...]:
    """Work out the kind words of a block from its check-ins, the latest row of each day."""
    rows = [row for _, row in sorted(month.check_ins.items())]
    return kind_words([Answers(**{name: getattr(row, name) for name in RATINGS}) for row in rows])


def high_points_of(month: StudentMonth) -> tuple[HighNote, ...]:
    """Choose the highest good notes of a block to show, the earliest first."""
    return high_points(
        [
            HighNote(day=day, note=row.high_note)
            for day, row in sorted(month.check_ins.items())
            if row.high_note is not None
        ]
    )
