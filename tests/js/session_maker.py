"""A session for the player's tests: invented, with the context that the page is given."""

from types import SimpleNamespace
from typing import Any

NAMES = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")
SPOKEN = (
    "C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B",
)  # fmt: skip
# Written notes of a three-valved instrument in C, as every beginner's chart has them
# (common practice; the engine's own tests prove fingerings, here they are only shown).
FINGERINGS = {
    54: "123", 55: "13", 56: "23", 57: "12", 58: "1", 59: "2", 60: "0", 61: "123", 62: "13",
    63: "23", 64: "12", 65: "1", 66: "2", 67: "0", 68: "23", 69: "12", 70: "1", 71: "2", 72: "0",
    73: "12", 74: "1", 75: "2", 76: "0", 77: "1", 78: "2", 79: "0",
}  # fmt: skip
# The walk of the product's worked example: G4 down to F#3, from G4 again up to G5, 27 notes.
WALK = ((*range(67, 53, -1), "down"), (*range(67, 80), "up"))


def said(written: int) -> str:
    """How a screen reader says a note of a walk from G4: low more than six half steps below it."""
    height = {-1: "low ", 0: "", 1: "high "}[(written - 67 + 6) // 12]
    return f"{height}{SPOKEN[written % 12]}"


def walk_notes() -> list[tuple[int, str]]:
    """Each note of the worked example with its part of the walk."""
    return [(note, str(part[-1])) for part in WALK for note in part[:-1] if isinstance(note, int)]


def a_session(
    *,
    notes: list[tuple[int, str]] | None = None,
    hold: int = 8,
    rest: int = 8,
    tempo: int = 60,
    count_in: int = 4,
    top_is_open: bool = True,
) -> dict[str, Any]:
    """What the page hands to the player; times in seconds from the first attack."""
    chosen = walk_notes() if notes is None else notes
    steps = [
        {
            "index": index, "written": written, "label": NAMES[written % 12],
            "spoken": said(written), "concert_label": NAMES[(written - 2) % 12],
            "concert_spoken": f"{SPOKEN[(written - 2) % 12]} {(written - 2) // 12 - 1}",
            "fingering": FINGERINGS[written],
            "fingering_words": "open" if FINGERINGS[written] == "0" else "valves",
            "hint": "extend the third slide" if written in {61, 62} else "", "part": part,
            "dynamic": "mf", "dynamic_words": "medium loud",
            "start": index * (hold + rest) * 60 / tempo,
            "hold": hold * 60 / tempo, "rest": rest * 60 / tempo,
        }
        for index, (written, part) in enumerate(chosen)
    ]  # fmt: skip
    return {
        "student": "s-7Qd2", "name": "Nor", "block": "b-41xk", "version": 12, "day": "2026-03-03",
        "hold": hold, "rest": rest, "tempo": tempo, "count_in": count_in,
        "start_note": 67, "has_concert": True, "top_is_open": top_is_open,
        "dynamic_today": "Medium loud",
        "check_in_url": "/check-in", "hurt_url": "/hurt", "steps": steps,
    }  # fmt: skip


def a_picture(written: int) -> SimpleNamespace:
    """A note drawn on a treble staff: only as true as a picture of the page needs."""
    above_e4 = (0, 0, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[written % 12] + 7 * (written // 12) - 37
    y = 100 - 5 * above_e4
    note = SimpleNamespace(
        x=80, y=y, accidental={1: "sharp", 3: "flat", 6: "sharp", 8: "flat", 10: "flat"}.get(
            written % 12, ""
        ), accidental_x=58, ledger_x1=66, ledger_x2=94, label=NAMES[written % 12],
        ledger_ys=[*range(110, y + 1, 10), *range(50, y - 1, -10)],
    )  # fmt: skip
    return SimpleNamespace(
        width=110, height=120, view_box="0 25 110 120", line_ys=(60, 70, 80, 90, 100),
        clef="treble", clef_x=18, clef_y=90, notes=(note,), title="",
    )  # fmt: skip


def a_page(session: dict[str, Any]) -> dict[str, Any]:
    """The context of the session page."""
    written = sorted({step["written"] for step in session["steps"]})
    return {
        "student": SimpleNamespace(name=session["name"], public_id=session["student"]),
        "session": session,
        "staves": [{"written": note, "picture": a_picture(note)} for note in written],
        "check_in_url": session["check_in_url"],
        "today_url": "/today",
        "hurt_url": session["hurt_url"],
    }
