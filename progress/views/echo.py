"""What the server answers to what waited on a phone: an exact echo, or why it was not taken.

The phone forgets an item only when key and hash of the echo are its own, so an answer that came
from somewhere else, or to something else, deletes nothing.
"""

import hashlib
from http import HTTPStatus
from uuid import UUID

from django.forms import Form
from django.http import HttpRequest, JsonResponse, RawPostDataException


def wants_echo(request: HttpRequest) -> bool:
    """Whether the phone's outbox is asking, and not a form of a page."""
    return request.headers.get("Accept") == "application/json"


def echo(request: HttpRequest, key: UUID | None, public_id: str, *, is_new: bool) -> JsonResponse:
    """Say what was kept: the key, the row's public id, and the hash (SHA-256) of what arrived."""
    said = {
        "key": str(key),
        "id": public_id,
        "hash": hashlib.sha256(_arrived(request)).hexdigest(),
    }
    return JsonResponse(said, status=HTTPStatus.CREATED if is_new else HTTPStatus.OK)


def _arrived(request: HttpRequest) -> bytes:
    """Give the bytes that arrived; of a form in parts, which no phone of ours sends, none."""
    try:
        return request.body
    except RawPostDataException:
        return b""


def not_taken(words: str, status: HTTPStatus) -> JsonResponse:
    """Say in words why something was not kept; the phone keeps it and shows the words."""
    return JsonResponse({"words": words}, status=status)


def first_words(form: Form) -> str:
    """Choose what to say of a form that cannot be taken: its first error, with the field's name."""
    name, errors = next(iter(form.errors.items()))
    # An error of the day names the day itself.
    label = form[name].label if name in form.fields and name != "day" else ""
    return f"{label}: {errors[0]}" if label else str(errors[0])
