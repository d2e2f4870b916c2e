"""The training record and the matrix as of a moment: the rows that paper and CSV share. Reads only.

A row unites what published rules ask of a training record: name and date and type and result (21 CFR 213.25(a)),
names and dates kept up to date (29 CFR 1910.147(c)(7)(iv)), training date, evaluation date and who did it (29 CFR
1910.178(l)(6)).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plant.audit.models import Signature
from plant.people.models import Person, Role
from plant.people.queries import active_people, roles_of
from training.models import Assessment, Attempt, Attendance, Certificate, Practice
from training.queries import Register, register, state_of, with_acts
from training.sentences import names

COLUMNS = (
    "name",
    "staff number",
    "skill",
    "certificate",
    "rule and version",
    "type",
    "training dates",
    "evaluation date",
    "method",
    "result",
    "trainer",
    "evaluator",
    "machine or room",
    "valid from",
    "valid to",
    "state",
    "issued by",
    "signature digest",
    "evidence",
)


@dataclass(frozen=True)
class Line:
    """One certificate in the record of training."""

    cells: dict[str, str]


def may_see_results(reader: Person, about: Person, at: datetime) -> bool:
    """Scores are for the person, trainers and assessors; others see valid or not valid."""
    return reader.pk == about.pk or bool(roles_of(reader, at) & {Role.TRAINER, Role.ASSESSOR})


def training_record(person: Person, at: datetime, *, results: bool) -> list[Line]:
    """The record of one person as it stood at a moment: later certificates and acts are not in it."""
    found = with_acts().select_related("person", "issued_by", "renews").filter(person=person, issued_at__lte=at)
    certificates = list(found.order_by("skill__order", "issued_at", "pk"))
    book, proof = register([person], at), _Proof(certificates)
    return [Line(_cells(each, book, proof, results, at)) for each in certificates]


class _Proof:
    """The rows that certificates stand on, read in one query each."""

    def __init__(self, certificates: list[Certificate]):
        def keys(name: str) -> set[int]:
            return {key for each in certificates for key in each.grounds.get(name, [])}

        attended = Attendance.objects.select_related("session__trainer")
        self.attendances = attended.in_bulk(keys("attendances"))
        self.attempts = Attempt.objects.select_related("result").in_bulk(keys("attempts"))
        self.practices = Practice.objects.select_related("by").in_bulk(keys("practices"))
        self.assessments = Assessment.objects.select_related("assessor", "verdict").in_bulk(keys("assessments"))
        ids = [str(each.pk) for each in certificates]
        signed = Signature.objects.filter(subject_type="certificate", subject_id__in=ids)
        self.signatures = {each.subject_id: each for each in signed}

    def of(self, certificate: Certificate, name: str) -> list[Any]:
        """The rows of one kind behind a certificate."""
        rows: dict[int, Any] = getattr(self, name)
        return [rows[key] for key in certificate.grounds.get(name, []) if key in rows]


def _cells(each: Certificate, book: Register, proof: _Proof, results: bool, at: datetime) -> dict[str, str]:
    zone = book.zone
    lessons, tried = proof.of(each, "attendances"), proof.of(each, "attempts")
    jobs, shown = proof.of(each, "practices"), proof.of(each, "assessments")
    signature = proof.signatures.get(str(each.pk))
    kind = "founding" if each.founding else "renewal" if each.renews_id else "first"
    judged = max((one.verdict.at for one in shown), default=None)
    method = [
        word for word, rows in (("class", lessons), ("test", tried), ("practice", jobs), ("practical", shown)) if rows
    ]
    values = {
        "name": each.person.name,
        "staff number": each.person.staff_no,
        "skill": each.skill.name,
        "certificate": each.number,
        "rule and version": f"{each.rule or 'chosen day'} {each.rule_version}" if each.rule_version else "before rules",
        "type": kind,
        "training dates": _days([one.session.starts_at for one in lessons] + [one.done_at for one in jobs], zone),
        "evaluation date": _days([judged] if judged else [], zone),
        "method": ", ".join(method) or "evidence on paper",
        "result": _result(tried, shown) if results else "certified",
        "trainer": _people([one.session.trainer for one in lessons] + [one.by for one in jobs]),
        "evaluator": _people([one.assessor for one in shown]),
        "machine or room": ", ".join(dict.fromkeys([one.place for one in shown if one.place])),
        "valid from": each.valid_from.isoformat(),
        "valid to": each.valid_to.isoformat(),
        "state": state_of(each, at, zone).value,
        "issued by": each.issued_by.name if each.issued_by else "",
        "signature digest": signature.digest if signature else "",
        "evidence": each.evidence,
    }
    return {name: value or "not recorded" for name, value in values.items()}


def _days(moments: Iterable[datetime], zone: Any) -> str:
    return ", ".join(dict.fromkeys(each.astimezone(zone).date().isoformat() for each in sorted(moments)))


def _people(persons: Iterable[Person]) -> str:
    return names(list(dict.fromkeys(each.name for each in persons)), most=9)


def _result(tried: list[Any], shown: list[Any]) -> str:
    said = [f"test {one.result.right} of {one.result.asked}" for one in tried if hasattr(one, "result")]
    said += [f"practical {one.verdict.get_outcome_display()}, {one.verdict.done} steps done" for one in shown]
    return "; ".join(said) or "evidence on paper"


@dataclass(frozen=True)
class Matrix:
    """Persons by skills: the state and the last day of the certificate that decides, at a moment."""

    skills: list[tuple[str, str]]
    rows: list[tuple[Person, list[str]]]


def matrix(at: datetime, *, search: str = "", shift: str = "") -> Matrix:
    """The matrix of the plant as of a moment; what came later does not count."""
    people = active_people(at).exclude(employer=Person.Employer.OUTSIDE).order_by("name", "pk")
    if shift:
        people = people.filter(home_shift=shift)
    persons = list(people.filter(name__icontains=search) if search else people)
    book = register(persons, at, known_then=True)
    skills = [(code, skill.name) for code, skill in book.skills.items()]
    return Matrix(skills, [(each, [_cell(book, each, code) for code, _ in skills]) for each in persons])


def _cell(book: Register, person: Person, code: str) -> str:
    held = book.holding(person, code)
    return f"{held.state.value} to {held.certificate.valid_to.isoformat()}" if held else ""
