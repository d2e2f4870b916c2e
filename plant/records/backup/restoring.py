"""From a backup to a running installation, with proof that all came back."""

import os
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.db.migrations.loader import MigrationLoader

from plant.audit.services import record
from plant.audit.verification.whole import Verified, verify
from plant.errors import Refused
from plant.floor.models import Plant
from plant.people.models import Person
from plant.records.backup import archive, databases

STREAM = "keeping"


@dataclass(frozen=True)
class Restored:
    """What came back."""

    made_at: str
    tables: int
    rows: int
    files: int
    verified: Verified


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """A folder beside the data, on the same disk, that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="backup-", dir=settings.DATA_DIR) as name:
        yield Path(name)


def make_backup(target: Path, *, at: datetime) -> archive.Made:
    """Write a backup and put it in the trail."""
    if target.exists():
        raise Refused("there", f"{target} is there already and is not written over. Name a new file.")
    try:
        with scratch_folder() as scratch:
            made = archive.write(target, media=Path(settings.MEDIA_ROOT), scratch=scratch, at=at)
    except OSError as trouble:
        target.unlink(missing_ok=True)
        raise Refused("not-written", f"{target} cannot be written: {trouble.strerror or trouble}.") from None
    except BaseException:
        target.unlink(missing_ok=True)  # half a backup is worse than none
        raise
    facts = {"digest": made.digest, "tables": made.tables, "rows": made.rows, "files": made.files}
    _tell("backup", f"backup {target.name} was made", None, at, facts)
    return made


def _tell(action: str, sentence: str, by: Person | None, at: datetime, facts: dict[str, Any], reason: str = "") -> None:
    plant = Plant.objects.first()
    if plant is not None:
        with transaction.atomic():
            record(
                stream=STREAM,
                action=action,
                subject=plant,
                sentence=sentence,
                by=by,
                at=at,
                facts=facts,
                reason=reason,
            )


def _opened(source: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(source)
    except (OSError, zipfile.BadZipFile):
        raise Refused("no-backup", f"{source} is no backup of Bandkeeper, or cannot be read.") from None


def _refuse_other(manifest: dict[str, Any]) -> None:
    if manifest["vendor"] != connection.vendor:
        sentence = (
            f"This is a backup of {manifest['vendor']}, and this installation runs on {connection.vendor}. "
            "Restore it into an installation of the same kind (PLANT_DATABASE_URL)."
        )
        raise Refused("other-database", sentence)
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    ours = {app.split(".")[0] for app in known}
    newer = [name for name in manifest["migrations"] if name.split(".")[0] in ours and name not in known]
    if newer:
        sentence = f"The backup is of a newer Bandkeeper (it has {newer[0]}). Install that version first."
        raise Refused("newer", sentence)


def restore(source: Path, *, over: bool, at: datetime) -> Restored:
    """Put a backup in place of what is here: unpacked and checked first, compared and verified afterwards.

    Over people who are entered already only when told so, and then what was there is kept in a backup of its own.
    """
    with scratch_folder() as scratch, _opened(source) as file:
        manifest = archive.read_manifest(file, source.name)
        _refuse_other(manifest)
        full = databases.holds_anything()
        if full and not over:
            sentence = (
                "There are records here already. To put the backup in their place, stop the server and say --over; "
                "what is here now is kept in a backup of its own first."
            )
            raise Refused("not-empty", sentence)
        archive.unpack(file, manifest, scratch)
        if full:
            make_backup(Path(settings.DATA_DIR) / f"before-restore-{at:%Y%m%d-%H%M%S}.zip", at=at)
        found = databases.put(scratch / databases.MEMBER[connection.vendor])
        _compare(manifest, found)
        _put_media(scratch / "media", at)
    call_command("migrate", verbosity=0, interactive=False, skip_checks=True)
    verified = verify()
    facts = {
        "backup": archive.digest_of(source),
        "made_at": manifest["made_at"],
        "holds": verified.holds,
        "events": verified.events,
    }
    _tell("restore", f"restored from the backup of {manifest['made_at']}", None, at, facts)
    rows = sum(count for count, _ in found.values())
    return Restored(manifest["made_at"], len(found), rows, len(manifest["members"]) - 1, verified)


def _compare(manifest: dict[str, Any], found: dict[str, tuple[int, str]]) -> None:
    for name, (rows, digest) in manifest["tables"].items():
        if found.get(name) != (rows, digest):
            have = found.get(name, (0, ""))[0]
            sentence = f"Table {name} came back with {have} rows and not as the {rows} of the backup. Take another one."
            raise Refused("not-the-same", sentence)


def _put_media(source: Path, at: datetime) -> None:
    """The files of the backup in place of those here, which are moved aside."""
    media = Path(settings.MEDIA_ROOT)
    if media.is_dir() and any(media.iterdir()):
        media.rename(media.with_name(f"{media.name}.before-{at:%Y%m%d-%H%M%S}"))
    media.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        if media.is_dir():
            media.rmdir()
        source.rename(media)
    else:
        media.mkdir(exist_ok=True)


def drill(source: Path, *, by: Person, at: datetime) -> tuple[bool, str]:
    """Restore into a place of its own, throw it away, and put in the trail who did it and how it went."""
    began = time.monotonic()
    with scratch_folder() as scratch, _empty_database(at) as address:
        here = {"PLANT_DATA_DIR": str(scratch), "PLANT_DATABASE_URL": address}
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "restore", str(source.resolve())]
        done = subprocess.run(command, env={**os.environ, **here}, capture_output=True, text=True)  # noqa: S603
    good, seconds = done.returncode == 0, round(time.monotonic() - began, 1)
    said = (done.stdout.strip() if good else done.stderr.strip() or done.stdout.strip()) or "it printed nothing"
    facts = {"file": source.name, "good": good, "seconds": str(seconds), "said": said.splitlines()[-3:]}
    word = "everything came back" if good else "it failed"
    _tell("restore-drill", f"{by.name} tried a restore of {source.name}: {word}", by, at, facts)
    return good, said


@contextmanager
def _empty_database(at: datetime) -> Iterator[str]:
    """The address of a database that is there for the drill only; empty for SQLite, which makes its own file."""
    if connection.vendor == "sqlite":
        yield ""
        return
    name = f"bandkeeper_drill_{at:%Y%m%d_%H%M%S}"
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name}")
    except DatabaseError as trouble:
        sentence = f"A drill needs the right to make a database, which {connection.settings_dict['USER']} lacks here"
        raise Refused("no-scratch", f"{sentence}: {str(trouble).strip()}.") from None
    try:
        yield _address_of(name)
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name}")


def _address_of(name: str) -> str:
    given = connection.settings_dict
    word = f":{quote(given['PASSWORD'], safe='')}" if given["PASSWORD"] else ""
    port = f":{given['PORT']}" if given["PORT"] else ""
    return f"postgres://{given['USER']}{word}@{given['HOST']}{port}/{name}"
