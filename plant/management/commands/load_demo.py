"""`manage.py load_demo`: fill an empty installation with the invented Tarn Hollow Works."""

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from plant.web import clock
from rollers.demo.cast import DEMO_PASSWORD, GUEST, STAFF
from rollers.demo.loading import has_data, load


def moment(text: str) -> datetime:
    """An ISO moment with its offset from UTC."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise CommandError(f"--at takes a moment with its offset, for example 2026-03-25T09:00+01:00; not {text!r}.")
    return at


class Command(BaseCommand):
    help = "Load the invented demo plant into an empty installation, once."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--at", metavar="ISO", help="tell the story up to this moment instead of now")

    def handle(self, *args: Any, **options: Any) -> None:
        at = moment(options["at"]) if options["at"] else clock.now()
        if has_data():
            self.stdout.write("There is data here already; the demo plant is loaded only into an empty installation.")
            return
        load(at)
        self.stdout.write("Demo sign-ins (invented people of the invented Tarn Hollow Works)\n")
        width = max(len(member.name) for member in STAFF)
        for member in (*STAFF, GUEST):
            self.stdout.write(f"  {member.staff_no}  {member.name:<{width}}  {member.try_this}")
        self.stdout.write(f"\nEverybody's password here, for the demo only: {DEMO_PASSWORD}")
