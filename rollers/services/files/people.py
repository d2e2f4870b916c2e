"""Persons and founding certificates as CSV. Secrets are never in a file."""

from collections.abc import Iterator

from plant.errors import Refused
from plant.people.access import person_by_number
from plant.people.models import Person, Role
from plant.people.queries import roles_by_person
from plant.people.services import join
from rollers.services.files.columns import Row, choice, day, moment, several, shown_day, shown_moment, text
from rollers.services.files.taking import Asked, Kind, Taking
from training.models import Certificate
from training.services import import_founding_certificate

# Lists of persons leave the screens only with those who answer for them.
READERS = (Role.KEEPER, Role.QA, Role.TRAINER, Role.MANAGER)

PEOPLE = (
    text("staff_no", "staff number; never given to anybody else later", needed=True),
    text("name", "name as printed", needed=True),
    several("roles", f"roles: {', '.join(Role.values)}"),
    choice("employer", "who employs the person, empty: plant", tuple(Person.Employer.values)),
    text("language", "language, for example en-gb"),
    text("email", "e-mail address"),
    text("home_shift", "usual shift"),
    moment("active_from", "first day", needed=True),
    moment("active_to", "end of access; needed for an outside firm"),
)


def take_people(rows: list[Row], taking: Taking) -> None:
    for row in rows:
        with taking.row(row):
            taking.once(row, "staff_no", row["staff_no"], "Staff number")
            if row["staff_no"].lower() == taking.by.staff_no.lower():
                taking.notices.append((row.line, f"{row['staff_no']} is you: your own entry stays as it is."))
                continue
            roles = [role.lower() for role in row["roles"] or []]
            for role in roles:
                if role not in Role.values:
                    sentence = f"{role!r} is no role here; write one of: {', '.join(Role.values)}."
                    raise Refused("no-role", sentence, field="roles")
            person = join(
                staff_no=row["staff_no"],
                name=row["name"],
                roles=roles,
                employer=row["employer"] or Person.Employer.PLANT,
                language=row["language"] or "en-gb",
                email=row.text("email"),
                home_shift=row.text("home_shift"),
                active_from=row["active_from"],
                active_to=row["active_to"],
                by=taking.by,
                at=taking.at,
            )
            taking.made.append((row.line, f"{person.name} ({person.staff_no}), {', '.join(roles) or 'no role'}"))


def give_people(asked: Asked) -> Iterator[dict[str, str]]:
    held = roles_by_person(asked.at)
    for person in Person.objects.order_by("staff_no"):
        yield {
            "staff_no": person.staff_no,
            "name": person.name,
            "roles": " | ".join(held.get(person.pk, [])),
            "employer": person.employer,
            "language": person.language,
            "email": person.email,
            "home_shift": person.home_shift,
            "active_from": shown_moment(person.active_from, asked.zone),
            "active_to": shown_moment(person.active_to, asked.zone),
        }


PEOPLE_KIND = Kind(
    "people",
    "People",
    "A row per person. Each then gets a starter code from the system keeper and chooses the own secret.",
    PEOPLE,
    take_people,
    give_people,
    (
        {"staff_no": "2001", "name": "Ada Example", "roles": "operator", "active_from": "2024-01-01"},
        {"staff_no": "2002", "name": "Ben Example", "roles": "supervisor | qa", "active_from": "2024-01-01"},
    ),
    readers=READERS,
)

CERTIFICATES = (
    text("staff_no", "staff number of the person", needed=True),
    text("skill", "aware, apply, check, size, teach, assess, food, medical or hot", needed=True),
    text("number", "number on the paper; empty: one is given"),
    day("valid_from", "first day", needed=True),
    day("valid_to", "last day", needed=True),
    text("evidence", "what it stands on and where that is kept", needed=True),
)


def take_certificates(rows: list[Row], taking: Taking) -> None:
    for row in rows:
        with taking.row(row):
            if row["number"]:
                taking.once(row, "number", row["number"], "Certificate number")
            _refuse_same(row, taking)
            certificate = import_founding_certificate(
                person_by_number(row["staff_no"]),
                row["skill"].lower(),
                valid_from=row["valid_from"],
                valid_to=row["valid_to"],
                evidence=row["evidence"],
                number=row.text("number"),
                by=taking.by,
                at=taking.at,
            )
            said = f"{certificate.skill} for {certificate.person.name}, to {certificate.valid_to}, founding"
            taking.made.append((row.line, said))


def _refuse_same(row: Row, taking: Taking) -> None:
    key = f"{row['staff_no']} {row['skill']} from {row['valid_from']}"
    taking.once(row, "skill", key, "The certificate")
    there = Certificate.objects.filter(
        person__staff_no__iexact=row["staff_no"], skill__code=row["skill"].lower(), valid_from=row["valid_from"]
    )
    if there.exists():
        raise Refused("certificate-taken", f"The certificate {key} is on record already.", field="skill")


def give_certificates(asked: Asked) -> Iterator[dict[str, str]]:
    founding = Certificate.objects.filter(founding=True).select_related("person", "skill")
    for certificate in founding.order_by("person__staff_no", "skill__order", "valid_from", "number"):
        yield {
            "staff_no": certificate.person.staff_no,
            "skill": certificate.skill.code,
            "number": certificate.number,
            "valid_from": shown_day(certificate.valid_from),
            "valid_to": shown_day(certificate.valid_to),
            "evidence": certificate.evidence,
        }


CERTIFICATES_KIND = Kind(
    "certificates",
    "Certificates",
    "Founding certificates on written evidence. Certificates signed here later are records of their own and are "
    "neither brought in nor exported this way.",
    CERTIFICATES,
    take_certificates,
    give_certificates,
    (
        {
            "staff_no": "2001",
            "skill": "aware",
            "number": "OLD-17",
            "valid_from": "2025-06-02",
            "valid_to": "2027-06-01",
            "evidence": "test sheet of 2 June 2025, training folder 3",
        },
    ),
    readers=READERS,
)
