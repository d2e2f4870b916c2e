"""The scheduler of the embedded server: a daemon thread that calls `tick`."""

import logging
import threading

from plant.jobs.running import tick_and_let_go
from plant.web import clock

log = logging.getLogger(__name__)


def start(seconds: float = 15.0) -> threading.Thread:
    """Call `tick` every `seconds` until the process ends."""

    def go_on() -> None:
        pause = threading.Event()
        while True:
            try:
                tick_and_let_go(clock.now())
            except Exception:
                log.exception("tick failed; trying again")
            pause.wait(seconds)

    thread = threading.Thread(target=go_on, name="tick", daemon=True)
    thread.start()
    return thread
