"""`manage.py backup FILE`: everything on record in one file."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.errors import Refused
from plant.records.backup.restoring import make_backup
from plant.web import clock


class Command(BaseCommand):
    help = (
        "Write database and files to a new ZIP with a manifest of digests, while the server runs. The secret key of "
        "the installation is not in it: keep that, and the daily roots (export_roots), somewhere else."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="a new file, for example bandkeeper-2026-03-25.zip")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = make_backup(Path(options["file"]), at=clock.now())
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        self.stdout.write(f"{made.path}: {made.tables} tables with {made.rows} rows, and {made.files} files.")
        self.stdout.write(f"SHA-256 {made.digest}")
        self.stdout.write("A backup counts once a restore was tried: manage.py restore FILE --drill --by STAFF_NO")
