"""`manage.py runjob PK`: one queued job in a process of its own."""

from django.core.management.base import BaseCommand, CommandParser

from plant.jobs.running import run_one
from plant.web import clock


class Command(BaseCommand):
    help = "Run one queued job."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", type=int)

    def handle(self, *args: object, **options: int) -> None:
        done = run_one(options["job"], clock.now())
        self.stdout.write("done" if done else "nothing to do: already taken or ended")
