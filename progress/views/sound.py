"""Giving out a file of sound: whole, or the part that a player asks for (RFC 9110, section 14)."""

import re
from http import HTTPStatus
from pathlib import Path

from django.http import Http404, HttpRequest, HttpResponse

_PART = re.compile(r"bytes=(\d{1,9})?-(\d{1,9})?", re.ASCII)


def answer_with(
    request: HttpRequest, path: Path, name: str, *, keeps: bool = False
) -> HttpResponse:
    """Answer with a FLAC file; 404 where it is gone, as after a restore."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise Http404 from error
    part = None if keeps else _part(request.headers.get("Range", ""), len(content))
    response = HttpResponse(content if part is None else content[part], content_type="audio/flac")
    if part is not None:
        response.status_code = HTTPStatus.PARTIAL_CONTENT
        told = f"bytes {part.start}-{part.stop - 1}/{len(content)}"
        response["Content-Range"] = told
    how = "attachment" if keeps else "inline"
    response["Content-Disposition"] = f'{how}; filename="{name}"'
    response["Accept-Ranges"] = "bytes"
    response["Cache-Control"] = "no-store"
    # Sound does not get smaller, and a part of a packed file is no part of the file.
    response["Content-Encoding"] = "identity"
    return response


def _part(asked: str, size: int) -> slice | None:
    """Read one range; what is none, or none that can be, gets the whole file."""
    found = _PART.fullmatch(asked)
    if found is None or not size:
        return None
    first, last = found.groups()
    if first is None:
        return None if last is None or not int(last) else slice(max(0, size - int(last)), size)
    begin, end = int(first), min(int(last) + 1 if last else size, size)
    return slice(begin, end) if begin < end else None
