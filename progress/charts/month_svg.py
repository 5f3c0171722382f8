"""A system of the month line as SVG, written in one go: sixty of them stand on one page."""

from django.utils.safestring import mark_safe

from progress.charts.month_line import MonthSystem

STAFF_HEIGHT = 40


def drawn(system: MonthSystem, glyphs: str) -> str:
    """Write staff lines, barlines and marks; `glyphs` is the address of the file of signs.

    All that goes in is numbers and names of our own, so there is nothing to escape.
    """
    top = system.line_ys[0]
    lines = "".join(f'<path d="M{system.left} {y}H{system.right}"/>' for y in system.line_ys)
    bars = "".join(
        f'<path d="M{bar.x} {top}v{STAFF_HEIGHT}m-5-{STAFF_HEIGHT}v{STAFF_HEIGHT}"/>'
        f'<path class="bar-thick" d="M{bar.x} {top}v{STAFF_HEIGHT}"/>'
        if bar.final
        else f'<path d="M{bar.x} {top}v{STAFF_HEIGHT}"/>'
        for bar in system.barlines
    )
    marks = "".join(
        f'<use class="month-mark" data-state="{mark.day.state.value}"'
        f' href="{glyphs}#{mark.glyph}" x="{mark.x}" y="{mark.y}"/>'
        + (
            ""
            if mark.fermata_y is None
            else f'<use class="month-hurt" href="{glyphs}#fermata" x="{mark.x}"'
            f' y="{mark.fermata_y}"/>'
        )
        for mark in system.marks
    )
    written = f'<g class="staff-lines">{lines}</g>\n    <g class="barlines">{bars}</g>\n    {marks}'
    return mark_safe(written)  # noqa: S308 - numbers and names of our own
