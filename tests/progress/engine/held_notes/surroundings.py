"""What lies between the bell and the file: room, noise, click, microphone, gain, quantising."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """Seconds, dB and Hz; nothing by default but a faint noise."""

    room: tuple[float, float] | None = None
    noise: float = -75.0
    breath: float | None = None
    hum: tuple[float, float] | None = None
    click: float | None = None
    talk: tuple[tuple[float, ...], float] | None = None
    band: tuple[float, float] | None = None
    gain_control: bool = False
    clip_at: float | None = None
    gain: float = 0.0
    offset: float = 0.0


def put_into(samples, rate, kind, rng, beat=None):
    """Send a dry clip through these surroundings."""
    made = samples
    if kind.room:
        made = _in_room(made, rate, kind.room, rng)
    made = made + _heard_beside(len(made), rate, kind, rng, beat)
    made = made + rng.standard_normal(len(made)) * 10 ** (kind.noise / 20)
    if kind.band:
        made = _banded(made, rate, kind.band)
    if kind.gain_control:
        made = _levelled(made, rate)
    made = made * 10 ** (kind.gain / 20) + kind.offset
    if kind.clip_at is not None:
        made = np.clip(made, -kind.clip_at, kind.clip_at)
    return made


def _heard_beside(count, rate, kind, rng, beat):
    """Breath, a click, talk and hum, as they come."""
    made = np.zeros(count)
    if kind.breath is not None:
        made += _coloured(count, rate, rng, (300, 4000)) * 10 ** (kind.breath / 20)
    if kind.click is not None and beat:
        made += _clicks(count, rate, beat) * 10 ** (kind.click / 20)
    if kind.talk:
        made += _talk(count, rate, kind.talk)
    if kind.hum:
        hertz, level = kind.hum
        time = np.arange(count) / rate
        hum = sum(np.sin(2 * np.pi * hertz * k * time + k) / k for k in (1, 2, 3, 5))
        made += hum * 10 ** (level / 20)
    return made


def _in_room(samples, rate, room, rng):
    """Decaying noise behind the direct sound: RT60 in seconds, direct over reverberant in dB."""
    decay, direct = room
    count = int(1.2 * decay * rate)
    time = np.arange(count) / rate
    tail = rng.standard_normal(count) * 10 ** (-3 * time / decay)
    tail[: int(0.004 * rate)] = 0
    tail *= 10 ** (-direct / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1
    size = len(samples) + count
    return np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)[: len(samples)]


def _coloured(count, rate, rng, band):
    noise = np.fft.rfft(rng.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / rate)
    noise *= 1 / (1 + (band[0] / np.maximum(hertz, 1)) ** 2) / (1 + (hertz / band[1]) ** 2)
    made = np.fft.irfft(noise, count)
    return made / made.std()


def _clicks(count, rate, beat):
    made = np.zeros(count)
    time = np.arange(int(0.03 * rate)) / rate
    one = np.sin(2 * np.pi * 1000 * time) * np.exp(-time / 0.008)
    for place in np.arange(0, count - len(one), beat * rate).astype(int):
        made[place : place + len(one)] += one
    return made


def _talk(count, rate, talk):
    """Three words from each of these seconds on, at this level: a voice that glides down."""
    made, (places, level) = np.zeros(count), talk
    time = np.arange(int(1.5 * rate)) / rate
    within = time % 0.5
    phase = 2 * np.pi * np.cumsum(150 * 2 ** (-within * 8 / 12)) / rate
    voice = sum(np.sin(k * phase) / k**0.7 for k in range(1, 20))
    voice = voice * np.sqrt(np.sin(np.clip(within / 0.35, 0, 1) * np.pi).clip(0))
    for place in places:
        part = made[int(place * rate) :][: len(voice)]
        part += voice[: len(part)] / voice.std() * 10 ** (level / 20)
    return made


def _banded(samples, rate, band):
    """A microphone's own limits: second order below and above."""
    spectrum = np.fft.rfft(samples)
    hertz = np.maximum(np.fft.rfftfreq(len(samples), 1 / rate), 0.01)
    shape = 1 / np.sqrt(1 + (band[0] / hertz) ** 4) / np.sqrt(1 + (hertz / band[1]) ** 4)
    return np.fft.irfft(spectrum * shape, len(samples))


def _levelled(samples, rate):
    """Automatic gain: towards -20 dBFS within half a second up, a tenth down."""
    block = int(0.01 * rate)
    gain, gains = 1.0, []
    for first in range(0, len(samples), block):
        power = float(np.sqrt(np.mean(samples[first : first + block] ** 2))) + 1e-9
        wanted = min(0.1 / power, 8.0)
        gain += (wanted - gain) * (0.1 if wanted < gain else 0.02)
        gains.append(gain)
    smooth = np.interp(np.arange(len(samples)), np.arange(len(gains)) * block, gains)
    return samples * smooth
