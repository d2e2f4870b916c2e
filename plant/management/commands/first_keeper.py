"""`manage.py first_keeper "Noor Adeyemi" 1001`: the first person of an installation, who enters all others."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from plant.errors import Refused
from plant.people.codes import typed_code
from plant.people.models import Person, Role
from plant.people.services import issue_starter, join
from plant.web import clock


class Command(BaseCommand):
    help = "Enter the first system keeper and print the starter code, once. Works only before anybody else is entered."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="name as it is printed beside signatures")
        parser.add_argument("staff_no", help="staff number, with which the person signs in")

    def handle(self, *args: Any, **options: Any) -> None:
        if Person.objects.exists():
            keepers = Person.objects.filter(role_grants__role=Role.KEEPER, role_grants__ended_at=None).distinct()
            names = ", ".join(keeper.name for keeper in keepers) or "nobody, so restore a backup"
            raise CommandError(
                f"There are people here already, so nobody is first any more. A system keeper enters others: {names}."
            )
        at, code = clock.now(), typed_code(groups=4)
        try:
            with transaction.atomic():
                person = join(
                    staff_no=options["staff_no"],
                    name=options["name"],
                    roles=[Role.KEEPER],
                    active_from=at,
                    by=None,
                    at=at,
                )
                issue_starter(person, code=code, by=None, at=at)
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        self.stdout.write(f"{person.name} is system keeper. Sign in within a day:")
        self.stdout.write(f"  staff number  {person.staff_no}")
        self.stdout.write(f"  starter code  {code}")
        self.stdout.write("The code is shown this once and works once; the person then chooses the own password.")
