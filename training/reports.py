"""What can be printed of training: the card, the full certificate, the record of a person, the matrix."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from plant.audit.models import Signature
from plant.errors import NotFound
from plant.floor.models import Plant
from plant.people.access import person_by_id, require_insider
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.reports.registry import Page, number_in, report
from training.access import certificate_by_id
from training.cards import check_address, initials_of, qr_svg
from training.models import Certificate
from training.queries import state_of
from training.record_rows import COLUMNS, matrix, may_see_results, training_record
from training.services.certificates import content_of, give_card
from training.services.exporting import require_record

CERTIFIERS = (Role.TRAINER, Role.ASSESSOR, Role.QA, Role.SUPERVISOR)
SHOWN = tuple(name for name in COLUMNS if name not in ("name", "staff number", "signature digest"))


def _own_or_certifier(reader: Person, subject_id: str, at: datetime) -> None:
    about = certificate_by_id(number_in(subject_id)).person
    if reader.pk != about.pk and not roles_of(reader, at) & set(CERTIFIERS):
        require_record(reader, about, at)


def _certificate_page(subject_id: str, at: datetime, template: str, title: str) -> Page:
    found = certificate_by_id(number_in(subject_id))
    if found.issued_at > at:
        raise NotFound("certificate at that moment", found.number, "It was issued later.")
    plant = Plant.objects.get()
    card, signature = give_card(found, at), signature_of(found)
    address = check_address(card.token)
    context = {
        "plant_name": plant.name,
        "certificate": found,
        "state": state_of(found, at, ZoneInfo(plant.time_zone)).value,
        "needs": [need.name for need in found.skill.needs.all()],
        "initials": initials_of(found.person.name),
        "qr": qr_svg(address),
        "address": address,
        "signature": signature,
        "time_zone": plant.time_zone,
    }
    record = content_of(found) | {
        "issued_at": found.issued_at,
        "issued_by": [found.issued_by.staff_no, found.issued_by.name] if found.issued_by else None,
        "signature": signature.digest if signature else None,
        "acts": [
            {"kind": act.kind, "at": act.at, "by": act.by.name, "reason": act.reason}
            for act in found.acts.all()
            if act.at <= at
        ],
        "as_of": at,
    }
    return Page(f"{title} {found.number}", template, context, record, at)


def signature_of(certificate: Certificate) -> Signature | None:
    """The issuer's signature; founding certificates have none."""
    return Signature.objects.filter(subject_type="certificate", subject_id=str(certificate.pk)).first()


@report("certificate-card", door=_own_or_certifier)
def card(subject_id: str, at: datetime) -> Page:
    """The card to carry: 85.6 by 54 mm, the size of a bank card (ISO/IEC 7810 ID-1)."""
    return _certificate_page(subject_id, at, "training/reports/card.html", "Card of certificate")


@report("certificate", door=_own_or_certifier)
def certificate(subject_id: str, at: datetime) -> Page:
    """The full certificate."""
    return _certificate_page(subject_id, at, "training/reports/certificate.html", "Certificate")


def _record_door(reader: Person, subject_id: str, at: datetime) -> None:
    require_record(reader, person_by_id(number_in(subject_id)), at)


def _results_door(reader: Person, subject_id: str, at: datetime) -> None:
    about = person_by_id(number_in(subject_id))
    if not may_see_results(reader, about, at):
        require_record(reader, about, at)
        raise NotFound("record with results for you", about.name, "Print the record without results instead.")


@report("training-record", door=_record_door)
def record_of_training(subject_id: str, at: datetime) -> Page:
    """The training record of one person, without scores."""
    return _record_page(subject_id, at, results=False)


@report("training-results", door=_results_door)
def record_with_results(subject_id: str, at: datetime) -> Page:
    """The training record with scores: for the person, trainers and assessors."""
    return _record_page(subject_id, at, results=True)


def _record_page(subject_id: str, at: datetime, *, results: bool) -> Page:
    about, plant = person_by_id(number_in(subject_id)), Plant.objects.get()
    lines = training_record(about, at, results=results)
    title = f"Training record of {about.name}"
    context = {
        "plant_name": plant.name,
        "person": about,
        "lines": [[(name, line.cells[name]) for name in SHOWN] for line in lines],
        "results": results,
        "time_zone": plant.time_zone,
    }
    body: dict[str, Any] = {"person": [about.staff_no, about.name], "lines": [line.cells for line in lines]}
    return Page(title, "training/reports/record.html", context, body | {"as_of": at}, at)


def _matrix_door(reader: Person, subject_id: str, at: datetime) -> None:
    require_insider(reader, at=at)


@report("training-matrix", door=_matrix_door)
def printed_matrix(subject_id: str, at: datetime) -> Page:
    """Everybody of the plant, or of one shift, by skill. `subject_id` is the shift, or `all`."""
    shift = "" if subject_id == "all" else subject_id
    found, plant = matrix(at, shift=shift), Plant.objects.get()
    context = {
        "plant_name": plant.name,
        "skills": [name for _, name in found.skills],
        "rows": found.rows,
        "shown": f"shift {shift}" if shift else "the whole plant",
        "time_zone": plant.time_zone,
    }
    codes = [code for code, _ in found.skills]
    lines = [
        {"person": [each.staff_no, each.name], **dict(zip(codes, cells, strict=True))} for each, cells in found.rows
    ]
    return Page("Training matrix", "training/reports/matrix.html", context, {"lines": lines, "as_of": at}, at)
