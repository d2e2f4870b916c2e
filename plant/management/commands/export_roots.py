"""`manage.py export_roots FILE`: the daily roots, to be kept where nobody of this installation can change them."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.audit.verification.roots import as_line, stored_roots


class Command(BaseCommand):
    help = (
        "Write the daily roots as JSON lines. `verify_records --against FILE` then finds what was cut off or changed."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="a new file; - for the standard output")

    def handle(self, *args: Any, **options: Any) -> None:
        lines = [json.dumps(as_line(rooted), ensure_ascii=False) for rooted in stored_roots()]
        text = "".join(f"{line}\n" for line in lines)
        if options["file"] == "-":
            self.stdout.write(text, ending="")
            return
        try:
            with Path(options["file"]).open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            raise CommandError(
                f"{options['file']} is there already and is not written over. Name a new file."
            ) from None
        except OSError as trouble:
            raise CommandError(f"{options['file']} cannot be written: {trouble.strerror}.") from None
        self.stdout.write(f"{len(lines)} daily roots written to {options['file']}. Keep it away from this machine.")
