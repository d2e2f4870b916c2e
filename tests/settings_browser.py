"""The settings of a server under test: the clock is read from a file, and passwords are hashed fast.

Nothing else differs from `plant.settings`, and nothing outside `tests` knows of it.
"""

import os
from datetime import datetime
from pathlib import Path

from plant.settings import *  # noqa: F403
from plant.settings import PASSWORD_HASHERS
from plant.web import clock

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *PASSWORD_HASHERS]
CLOCK = Path(os.environ["PLANT_TEST_CLOCK"])


def told() -> datetime:
    return datetime.fromisoformat(CLOCK.read_text())


clock.now = told
