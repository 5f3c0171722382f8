"""Figures that were aimed at, and how they are said."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bar:
    """A figure that was aimed at: words, the bound, is more better, between what it sways."""

    words: str
    bound: float
    value: float
    at_least: bool = True
    unit: str = ""
    sway: tuple[float, float] | None = None

    @property
    def is_met(self) -> bool:
        """Whether the figure reaches it."""
        return self.value >= self.bound if self.at_least else self.value <= self.bound


def as_table(bars: Iterable[Bar]) -> str:
    """Say what each figure should be, what it is, and whether that is met."""
    lines = ["| what | should be | is | |", "|---|---|---|---|"]
    for bar in bars:
        sign = "at least" if bar.at_least else "at most"
        met = "met" if bar.is_met else "**not met**"
        value = (
            f"{bar.value:.0f}" if bar.unit or bar.value == int(bar.value) else f"{bar.value:.3f}"
        )
        if bar.sway:
            value += f" ({bar.sway[0]:.2f} to {bar.sway[1]:.2f})"
        lines.append(
            f"| {bar.words} | {sign} {bar.bound:g}{bar.unit} | {value}{bar.unit} | {met} |"
        )
    return "\n".join(lines) + "\n"


def as_json(bars: Iterable[Bar]) -> dict[str, dict[str, float]]:
    """Give the same to a program."""
    return {
        bar.words: {"value": bar.value, "bound": bar.bound, "met": bar.is_met}
        | ({"low": bar.sway[0], "high": bar.sway[1]} if bar.sway else {})
        for bar in bars
    }
