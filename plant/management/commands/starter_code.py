"""`manage.py starter_code 1001 --reason "…"`: the way back in when no system keeper, or no colleague, is left."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.errors import Refused
from plant.people.access import person_by_number
from plant.people.codes import typed_code
from plant.people.services import issue_starter
from plant.web import clock


class Command(BaseCommand):
    help = (
        "Print a starter code for a person, once. For the case that the last system keeper lost the password, or that "
        "nobody is left who could vouch. The trail says that it came from the command line, and why."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("staff_no", help="staff number of the person")
        parser.add_argument("--reason", required=True, help="why it is not done on the screen; stands in the trail")

    def handle(self, *args: Any, **options: Any) -> None:
        if len(options["reason"].strip()) < 10:
            raise CommandError("Give the reason in a short sentence: it stands in the trail.")
        code = typed_code(groups=4)
        try:
            person = person_by_number(options["staff_no"])
            issue_starter(person, code=code, by=None, at=clock.now(), reason=options["reason"].strip())
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        self.stdout.write(f"{person.name}: sign in within a day with the starter code  {code}")
