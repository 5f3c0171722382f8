"""A link as a QR code to hold a phone's camera at."""

import segno
from django.utils.safestring import mark_safe


def drawn(link: str) -> str:
    """Draw the link as a QR code in SVG, dark on white, without inline style."""
    code = segno.make(link, error="m").svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True, svgclass=None, lineclass=None
    )
    return mark_safe(code)  # noqa: S308 - the drawing is ours and holds no text
