"""Where the signs of music are: in one file of drawings."""

from functools import lru_cache

from django.conf import STATICFILES_STORAGE_ALIAS
from django.core.files.storage import Storage, storages

FILE = "glyphs.svg"


def address_of(glyph: str) -> str:
    """Give the address of a sign by its name there: "/static/glyphs.….svg#fermata"."""
    return f"{file_address()}#{glyph}"


def file_address() -> str:
    """Give the address of the file; pages ask a hundred times, and it is worked out once."""
    return _address(storages[STATICFILES_STORAGE_ALIAS])


@lru_cache(maxsize=4)
def _address(storage: Storage) -> str:
    return storage.url(FILE)
