"""A file between the first look and the confirmation: kept for a day, for the person who sent it."""

import hashlib
import re
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings

from plant.errors import Refused
from plant.people.models import Person

KEPT_FOR = timedelta(days=1)


def _folder() -> Path:
    folder = Path(settings.MEDIA_ROOT) / "imports"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _path(person: Person, digest: str) -> Path:
    return _folder() / f"{person.pk}-{digest}.csv"


def keep(content: bytes, person: Person, at: datetime) -> str:
    """Put the file aside and forget those of former days; gives its digest."""
    for old in _folder().glob("*.csv"):
        if old.stat().st_mtime < (at - KEPT_FOR).timestamp():
            old.unlink(missing_ok=True)
    digest = hashlib.sha256(content).hexdigest()
    _path(person, digest).write_bytes(content)
    return digest


def fetch(person: Person, digest: str) -> bytes:
    """The file that this person looked at.

    Raises
    ------
    Refused
        When it is not there any more.
    """
    path = _path(person, digest) if re.fullmatch(r"[0-9a-f]{64}", digest) else None
    if path is None or not path.is_file():
        sentence = "The file you looked at is not here any more. Choose it again; nothing was taken in."
        raise Refused("file-gone", sentence, field="file")
    return path.read_bytes()


def forget(person: Person, digest: str) -> None:
    """The file is taken in and no longer needed here."""
    _path(person, digest).unlink(missing_ok=True)
