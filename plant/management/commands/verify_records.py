"""`manage.py verify_records`: does everything that was recorded still stand as it was written?"""

import json
from argparse import ArgumentParser
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.audit.verification.roots import Rooted, from_lines
from plant.audit.verification.whole import Verified, verify
from plant.errors import Refused


def moment(text: str) -> datetime:
    """The beginning of a day in UTC."""
    try:
        return datetime.combine(date.fromisoformat(text), time(0), tzinfo=UTC)
    except ValueError:
        raise CommandError(f"--since takes a day, for example 2026-03-25; not {text!r}.") from None


def kept_roots(name: str) -> list[Rooted]:
    """The roots in a file that was kept elsewhere."""
    try:
        return from_lines(Path(name).read_text("utf-8").splitlines())
    except (OSError, UnicodeDecodeError) as trouble:
        raise CommandError(f"The file of roots {name} cannot be read: {trouble}.") from None
    except Refused as refusal:
        raise CommandError(f"{name}: {refusal.sentence}") from None


class Command(BaseCommand):
    help = (
        "Check every event, chain, signature, file and daily root. Names what does not fit first in each stream "
        "and ends with 1."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--since", metavar="DAY", help="events after the last daily root before this day only")
        parser.add_argument("--against", metavar="FILE", help="a file of roots kept elsewhere (see export_roots)")
        parser.add_argument("--json", action="store_true", help="print JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        since = moment(options["since"]) if options["since"] else None
        kept = kept_roots(options["against"]) if options["against"] else None
        found = verify(since=since, kept=kept)
        self.stdout.write(as_json(found) if options["json"] else as_text(found))
        if not found.holds:
            raise SystemExit(1)


def as_json(found: Verified) -> str:
    """For programs."""
    told = {
        "holds": found.holds,
        "events": found.events,
        "streams": found.streams,
        "roots": found.roots,
        "last_root": found.last_root,
        "checks": found.checks,
        "misfits": [vars(misfit) for misfit in found.first_of_each()],
    }
    return json.dumps(told, indent=1, ensure_ascii=False)


def as_text(found: Verified) -> str:
    """For people."""
    lines = [
        f"{found.events} events in {found.streams} streams and {found.roots} daily roots looked at; "
        f"also: {', '.join(found.checks)}.",
        f"Last root: {found.last_root or 'none yet'}",
        *(f"DOES NOT FIT  {misfit}" for misfit in found.first_of_each()),
        *(f"purged        {note}" for note in found.purged),
        "Everything stands as it was written."
        if found.holds
        else f"{len(found.misfits)} things do not fit. Keep this database as it is, and tell QA and the system keeper.",
    ]
    return "\n".join(lines)
