"""How gunicorn serves Filar: processes, threads and the address, each by a setting.

`make run`, `make demo` and `make serve` start gunicorn with this file; so do the unit and the image
in `deploy/`.
"""

import os

bind = os.environ.get("FILAR_BIND") or f"127.0.0.1:{os.environ.get('PORT', '8000')}"
workers = int(os.environ.get("FILAR_WORKERS") or 2)
worker_class = "gthread"
threads = 4
# A worker that hangs is replaced. The longest request, a whole studio as one file, takes seconds.
timeout = 60
# So that little leaks stay little; not all workers at once.
max_requests = 5000
max_requests_jitter = 500
loglevel = os.environ.get("FILAR_LOG_LEVEL") or "warning"
# Whom to believe about addresses is settled by FILAR_PROXIES, in one place.
forwarded_allow_ips = ""
control_socket_disable = True
