"""How gunicorn serves Filar: processes, threads and the address, each by a setting.

`make run`, `make demo` and `make serve` start gunicorn with this file; so do the unit and the image
in `deploy/`.
"""

import logging
import os

from gunicorn.glogging import Logger  # type: ignore[import-untyped]

from config.logs import without_words

bind = os.environ.get("FILAR_BIND") or f"127.0.0.1:{os.environ.get('PORT', '8000')}"
workers = int(os.environ.get("FILAR_WORKERS") or 2)
worker_class = "config.worker.Worker"
threads = 4
# A process takes up what it has threads for. What else comes waits where the first process that is
# free finds it, so that of forty at once each takes its share.
worker_connections = threads
# Else those of whoever has had an answer count among them. A reverse proxy opens one each time.
keepalive = 0
# A worker that hangs is replaced. The longest request, a whole studio as one file, takes seconds.
timeout = 60
# So that little leaks stay little; not all workers at once.
max_requests = 5000
max_requests_jitter = 500
loglevel = os.environ.get("FILAR_LOG_LEVEL") or "warning"
# Whom to believe about addresses is settled by FILAR_PROXIES, in one place.
forwarded_allow_ips = ""
control_socket_disable = True

# The server's own lines about a single request quote it, and say from which address it came.
ABOUT_A_REQUEST = ("Invalid request", "Error handling request", "Ignoring")


def without_the_request(record: logging.LogRecord) -> bool:
    """Leave of such a line what it is about; of an error its kind and where it happened."""
    said = record.getMessage()
    if about := next((words for words in ABOUT_A_REQUEST if said.startswith(words)), ""):
        error = record.exc_info[1] if record.exc_info else None
        record.msg = f"{about}: {without_words(error)}" if error else about
        record.args, record.exc_info = (), None
    return True


class QuietLogger(Logger):  # type: ignore[misc] # untyped library
    """The server's log, which tells nothing of who asked for what."""

    def setup(self, cfg: object) -> None:
        """Look at every line before it is written."""
        super().setup(cfg)
        self.error_log.addFilter(without_the_request)


logger_class = QuietLogger
