"""Pure rules about persons and secrets."""

from datetime import datetime, timedelta

SIGNING_TRIES = 5
SIGNING_PAUSE = timedelta(minutes=15)
SIGN_IN_LOCK = 10
STARTER_LIFE = timedelta(hours=24)
REVIEW_EVERY = timedelta(days=92)


def sign_in_pause(failures: int) -> timedelta:
    """The wait after so many failures in a row: none at first, from the third on doubling from 5 s, locked
    at ten.

    NIST SP 800-63B asks for no more than 100 tries in a row; ten is our own, lower figure.
    """
    if failures < 3:
        return timedelta(0)
    if failures >= SIGN_IN_LOCK:
        return timedelta(hours=24)
    return timedelta(seconds=5 * 2 ** (failures - 3))


def wait_sentence(until: datetime, now: datetime) -> str:
    """How long to wait, in words."""
    seconds = max(1, int((until - now).total_seconds()))
    if seconds >= 2 * 3600:
        return f"{-(-seconds // 3600)} h"
    return f"{seconds} s" if seconds < 90 else f"{-(-seconds // 60)} min"
