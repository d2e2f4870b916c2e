"""`manage.py restore FILE`: the way back from a backup, and the drill of it."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.errors import Refused
from plant.people.access import person_by_number
from plant.records.backup.restoring import drill, restore
from plant.web import clock


class Command(BaseCommand):
    help = "Restore a backup into an empty installation, compare every table and file, and verify all records."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="a file that `backup` wrote")
        parser.add_argument("--over", action="store_true", help="in place of what is here, which is backed up first")
        parser.add_argument(
            "--drill", action="store_true", help="only try it, in a place of its own; stands in the trail"
        )
        parser.add_argument("--by", metavar="STAFF_NO", help="who does the drill")

    def handle(self, *args: Any, **options: Any) -> None:
        source, at = Path(options["file"]), clock.now()
        try:
            if options["drill"]:
                self._drill(source, options["by"], at)
            else:
                self._restore(source, options["over"], at)
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None

    def _restore(self, source: Path, over: bool, at: Any) -> None:
        back = restore(source, over=over, at=at)
        self.stdout.write(f"Backup of {back.made_at}: {back.tables} tables with {back.rows} rows, {back.files} files.")
        self.stdout.write("Every table has the digest that it had when the backup was made.")
        if not back.verified.holds:
            first = "\n".join(f"DOES NOT FIT  {misfit}" for misfit in back.verified.first_of_each()[:20])
            raise CommandError(f"Restored, but the records do not stand as they were written:\n{first}")
        self.stdout.write(f"{back.verified.events} events verified: everything stands as it was written.")

    def _drill(self, source: Path, staff_no: str | None, at: Any) -> None:
        if not staff_no:
            raise CommandError("Say who does the drill: --by STAFF_NO. It stands in the trail.")
        good, said = drill(source, by=person_by_number(staff_no), at=at)
        self.stdout.write(said)
        if not good:
            raise CommandError("The drill failed; it stands in the trail. Find out why before this backup is needed.")
        self.stdout.write("The drill went well and stands in the trail.")
