"""The file of a backup: a ZIP with the database, the media files and a manifest of SHA-256 digests."""

import hashlib
import json
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from plant.audit.canonical import canonical, plain
from plant.audit.proofs import root_at
from plant.errors import Refused
from plant.records.backup import databases

KIND = "Bandkeeper: backup, version 1"
MANIFEST = "manifest.json"
PIECE = 1024 * 1024


@dataclass(frozen=True)
class Made:
    """What a backup holds."""

    path: Path
    digest: str
    tables: int
    rows: int
    files: int


def _pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            yield piece


def digest_of(path: Path) -> str:
    """SHA-256 of a file."""
    found = hashlib.sha256()
    for piece in _pieces(path):
        found.update(piece)
    return found.hexdigest()


def migrations() -> list[str]:
    """What the database has been brought to."""
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def _add(archive: zipfile.ZipFile, name: str, path: Path, members: dict[str, str]) -> None:
    found = hashlib.sha256()
    with archive.open(name, "w", force_zip64=True) as member:
        for piece in _pieces(path):
            member.write(piece)
            found.update(piece)
    members[name] = found.hexdigest()


def write(target: Path, *, media: Path, scratch: Path, at: datetime) -> Made:
    """Write a backup to a new file. The database comes first, so every file that it speaks of is there."""
    dump = scratch / databases.MEMBER[connection.vendor]
    tables = databases.take(dump)
    members: dict[str, str] = {}
    root = root_at(at)
    with zipfile.ZipFile(target, "x", compression=zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        _add(archive, dump.name, dump, members)
        for path in sorted(media.rglob("*")) if media.is_dir() else []:
            if path.is_file():
                _add(archive, f"media/{path.relative_to(media).as_posix()}", path, members)
        manifest = {
            "kind": KIND,
            "made_at": plain(at),
            "vendor": connection.vendor,
            "migrations": migrations(),
            "members": members,
            "tables": {name: [rows, digest] for name, (rows, digest) in tables.items()},
            "last_root": root.root if root else None,
        }
        archive.writestr(MANIFEST, canonical(manifest))
    dump.unlink()
    count = sum(rows for rows, _ in tables.values())
    return Made(target, digest_of(target), len(tables), count, len(members) - 1)


def read_manifest(archive: zipfile.ZipFile, name: str) -> dict[str, Any]:
    """The manifest of a backup.

    Raises
    ------
    Refused
        When the file is no backup of this program.
    """
    try:
        manifest = json.loads(archive.read(MANIFEST))
    except (KeyError, ValueError, zipfile.BadZipFile):
        manifest = {}
    if not isinstance(manifest, dict) or manifest.get("kind") != KIND:
        raise Refused("no-backup", f"{name} is no backup of Bandkeeper. Take the file that `backup` wrote.")
    return manifest


def unpack(archive: zipfile.ZipFile, manifest: dict[str, Any], scratch: Path) -> None:
    """Every member into an empty folder, each compared with its digest. Nothing else is touched.

    Raises
    ------
    Refused
        Naming the first member that is missing, not in the manifest, changed, or leads elsewhere.
    """
    named = set(archive.namelist()) - {MANIFEST}
    for name in sorted(named ^ set(manifest["members"])):
        raise Refused("damaged", f"The backup is damaged: {name} stands in only one of archive and manifest.")
    for name, digest in manifest["members"].items():
        inside = PurePosixPath(name)
        if inside.is_absolute() or ".." in inside.parts or "\\" in name:
            raise Refused("damaged", f"The backup names the file {name}, which leads elsewhere. It is not restored.")
        target = scratch / inside
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with archive.open(name) as member, target.open("wb") as file:
                shutil.copyfileobj(member, file, PIECE)
        except (zipfile.BadZipFile, OSError, EOFError) as trouble:
            raise Refused("damaged", f"The backup is damaged: {name} cannot be read ({trouble}).") from None
        if digest_of(target) != digest:
            raise Refused("damaged", f"The backup is damaged: {name} is not as it was written. Take another one.")
