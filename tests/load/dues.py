"""How long the who-can-do grid, the due wall and the hourly work take for a large plant.

    python tests/load/dues.py [persons] [certificates of each]

Makes an invented plant of 2,000 persons with 8 certificates each in a database of its own, asks for the pages through
the whole stack and prints the median of five answers, in processor time (what a quiet machine takes), with the number
of queries. Nothing is asserted here.
"""

import os
import secrets
import statistics
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
FOLDER = tempfile.TemporaryDirectory(prefix="bandkeeper-load-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
os.environ["PLANT_DATA_DIR"] = FOLDER.name
os.environ.setdefault("PLANT_SECRET_KEY", secrets.token_hex(32))

import django  # noqa: E402

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from plant.floor.models import Plant  # noqa: E402
from plant.people.models import Person, RoleGrant  # noqa: E402
from training.models import Certificate, Due, Note, Skill  # noqa: E402
from training.services import raise_dues  # noqa: E402

SKILLS = ("aware", "apply", "check", "size", "food", "medical", "hot", "teach", "assess")
BEGAN = datetime(2024, 1, 1, tzinfo=UTC)


def build(persons: int, each: int, at: datetime) -> Person:
    """The plant: certificates end spread over the next twelve months, a few have ended."""
    Plant.objects.create(code="TH", name="Tarn Hollow Works", time_zone="Europe/Vienna")
    shifts = ("Early", "Late", "Night")
    rows = [
        Person(
            staff_no=f"{n:05d}",
            name=f"Person {n:05d}",
            active_from=BEGAN,
            home_shift=shifts[n % 3],
            must_choose_secret=False,
        )
        for n in range(persons)
    ]
    Person.objects.bulk_create(rows, batch_size=500)
    people = list(Person.objects.order_by("pk"))
    roles = [RoleGrant(person=one, role="operator", granted_at=BEGAN) for one in people]
    roles += [RoleGrant(person=one, role="supervisor", granted_at=BEGAN) for one in people[:6]]
    roles += [RoleGrant(person=one, role="trainer", granted_at=BEGAN) for one in people[:2]]
    RoleGrant.objects.bulk_create(roles, batch_size=500)
    skills, today = {skill.code: skill for skill in Skill.objects.all()}, at.date()
    certificates = []
    for place, person in enumerate(people):
        for number, code in enumerate(SKILLS[:each]):
            ends = today + timedelta(days=(37 * place + 101 * number) % 380 - 10)
            certificates.append(_certificate(person, skills[code], ends))
    Certificate.objects.bulk_create(certificates, batch_size=500)
    return people[0]


def _certificate(person: Person, skill: Skill, ends: date) -> Certificate:
    return Certificate(
        person=person,
        skill=skill,
        number=f"C-{person.staff_no}-{skill.code}",
        valid_from=date(2024, 1, 1),
        valid_to=ends,
        evidence="builder",
        issued_at=BEGAN,
        rule="anniversary",
        rule_version=1,
        anchor=ends,
    )


def asked(client: Client, address: str) -> str:
    """Median of five answers, and the queries of the last."""
    times = []
    for _ in range(5):
        with CaptureQueriesContext(connection) as queries:
            began = time.process_time()
            answer = client.get(address)
            times.append(time.process_time() - began)
        if answer.status_code != 200:
            raise SystemExit(f"{address} answered {answer.status_code}")
    return (
        f"{statistics.median(times):6.2f} s  {len(queries):3d} queries  {len(answer.content) / 1000:7.0f} kB  {address}"
    )


def main() -> None:
    """Print the figures."""
    persons = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 8
    at = datetime.now(UTC)
    call_command("migrate", verbosity=0)
    reader = build(persons, each, at)
    print(f"{persons} persons with {each} certificates each, {connection.vendor}")
    for what in ("first run", "nothing new"):
        began = time.process_time()
        with CaptureQueriesContext(connection) as queries:
            done = raise_dues(at)
        print(f"{time.process_time() - began:6.2f} s  {len(queries):3d} queries  hourly work, {what}: {done}")
    print(f"{Due.objects.count()} dues, {Note.objects.count()} notes")
    client = Client(headers={"host": "localhost"})
    client.force_login(reader, backend=settings.AUTHENTICATION_BACKENDS[0])
    for address in (
        "/training/?everybody=1",
        "/training/?everybody=1&skill=check&home=Late",
        "/training/due/",
        "/training/due/?kind=renewal&shift=Late",
        "/training/shifts/",
        f"/training/people/{reader.pk}/",
        "/training/matrix.csv",
    ):
        print(asked(client, address))


if __name__ == "__main__":
    main()
