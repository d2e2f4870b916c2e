"""How the web server runs, for `./dev run` and in the container alike.

One worker with a few threads: on SQLite a second worker only waits for the first, and more threads lengthen
the slowest answers. PDFs and imports run outside this process.
"""

import os
from importlib import import_module
from typing import Any

worker_class = "gthread"
workers = int(os.environ.get("PLANT_WEB_WORKERS") or 1)
threads = int(os.environ.get("PLANT_WEB_THREADS") or 4)
bind = os.environ.get("PLANT_BIND") or "127.0.0.1:8000"
certfile = os.environ.get("PLANT_TLS_CERT") or None
keyfile = os.environ.get("PLANT_TLS_KEY") or None
# A socket in the home folder of the user would be shared by every instance on the machine.
control_socket_disable = True
timeout = 60
graceful_timeout = 10
loglevel = "warning"


def when_ready(server: Any) -> None:
    """Greet only once the port is really open."""
    if greeting := os.environ.get("BANDKEEPER_GREETING"):
        print(greeting, flush=True)


def post_worker_init(worker: Any) -> None:
    """The embedded scheduler; with a broker, Celery beat wakes the same table instead."""
    if not os.environ.get("PLANT_BROKER_URL"):
        # This file is read before Django is set up, so the thread's module can only be loaded here.
        import_module("plant.jobs.thread").start()
