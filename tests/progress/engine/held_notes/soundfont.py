"""Notes that nobody here made: brass of a General MIDI soundfont, played by fluidsynth.

Debian's packages fluidsynth and fluid-soundfont-gm (Frank Wen's FluidR3, MIT licence). The times
are those of the MIDI file; the samples' own pitch is what librosa.pyin and librosa.yin read.
"""

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import mido
import soundfile

FONTS = (
    Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
)
TICKS = 1000
# Program numbers of General MIDI, from 0: RP-003, "General MIDI System Level 1", 1991.
PROGRAMS = {"trumpet": 56, "trombone": 57, "tuba": 58, "muted trumpet": 59, "horn": 60}
LEAD = 1.2


@dataclass(frozen=True, kw_only=True)
class Played:
    """One clip to be played: program, sounding MIDI numbers, seconds held and rested."""

    program: str
    notes: tuple[int, ...]
    hold: float = 3.0
    rest: float = 2.0
    velocity: int = 90
    wet: bool = False
    bend: int = 0


def found_fonts():
    """List the soundfonts that are there; none without fluidsynth."""
    return [font for font in FONTS if font.is_file()] if shutil.which("fluidsynth") else []


def render(played, font, folder, rate=48_000):
    """Play a clip into a WAV file of the folder; samples (frames, channels) and their rate."""
    score = mido.MidiFile(ticks_per_beat=TICKS)
    track = mido.MidiTrack()
    score.tracks.append(track)
    # At 120 beats a minute, the default, a beat is half a second.
    ticks = lambda seconds: round(2 * TICKS * seconds)  # noqa: E731
    track.append(mido.Message("program_change", program=PROGRAMS[played.program]))
    track.append(mido.Message("pitchwheel", pitch=played.bend))
    wait = LEAD
    for note in played.notes:
        track.append(mido.Message("note_on", note=note, velocity=played.velocity, time=ticks(wait)))
        track.append(mido.Message("note_off", note=note, time=ticks(played.hold)))
        wait = played.rest
    track.append(mido.Message("control_change", control=7, value=100, time=ticks(1.0)))
    score.save(folder / "clip.mid")
    room = ("1", "1") if played.wet else ("0", "0")
    subprocess.run(
        [
            *("fluidsynth", "-ni", "-q", "-F", str(folder / "clip.wav"), "-r", str(rate)),
            *("-R", room[0], "-C", room[1], "-g", "0.6", str(font), str(folder / "clip.mid")),
        ],
        capture_output=True,
        check=True,
    )
    return soundfile.read(folder / "clip.wav", dtype="float32", always_2d=True)


def starts(played):
    """The times of the notes (s)."""
    return [LEAD + index * (played.hold + played.rest) for index in range(len(played.notes))]


def clips():
    """List what is played: each instrument through its range, loud and soft, dry and in a room."""
    for program, notes in (
        ("trumpet", ((60, 59, 58), (67, 66, 65), (72, 74, 76), (79, 81, 82))),
        ("trombone", ((46, 45, 44), (53, 52, 51), (58, 60, 62))),
        ("tuba", ((34, 33, 32), (41, 40, 39), (29, 28, 27))),
        ("horn", ((53, 52, 51), (60, 59, 58), (65, 67, 69))),
        ("muted trumpet", ((67, 66, 65),)),
    ):
        for part in notes:
            for velocity, wet in ((50, False), (90, False), (115, True)):
                yield Played(program=program, notes=part, velocity=velocity, wet=wet)
