"""How large a form with a file may be: as large as any other request, and held in memory alone."""

from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import MemoryFileUploadHandler


class SmallFormsAlone(MemoryFileUploadHandler):
    """Refuses a form that is announced as too large before a byte of it is read.

    The framework counts the fields of such a form and not its files, which would go to a disk.
    """

    def handle_raw_input(self, input_data: Any, META: Any, content_length: int, *rest: Any) -> None:  # noqa: N803 - the framework's name
        """Look at the announced size; what is not announced is not read by anybody."""
        if content_length > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            message = f"{content_length} bytes were announced."
            raise RequestDataTooBig(message)
        super().handle_raw_input(input_data, META, content_length, *rest)
