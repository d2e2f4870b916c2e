"""The certificates of one person, as a list shows them."""

from dataclasses import dataclass
from datetime import datetime

from plant.people.models import Person
from training.models import Certificate, CertificateAct
from training.queries import register, state_of
from training.rules import State


@dataclass(frozen=True)
class Line:
    """A certificate as a list shows it: what it is now, and what was done to it."""

    certificate: Certificate
    state: State
    why: str
    acts: list[CertificateAct]
    current: bool

    @property
    def held_back(self) -> bool:
        """Valid by its own days, yet not counting, because of a certificate it is built on."""
        return self.state == State.VALID and bool(self.why)


def certificates_of(person: Person, at: datetime) -> list[Line]:
    """Every certificate of a person; of each skill the one that decides first and marked current."""
    book, lines = register([person], at), []
    for code in book.skills:
        decides = book.holding(person, code)
        of_skill = book.held.get(person.pk, {}).get(code, [])
        for each in sorted(of_skill, key=lambda one: one.valid_to, reverse=True):
            state = state_of(each, at, book.zone)
            current = decides is not None and decides.certificate.pk == each.pk
            trouble = book.skill_trouble(person, code) if current else None
            why = trouble.sentence if trouble else ""
            lines.append(Line(each, state, why, list(each.acts.all()), current))
    return sorted(lines, key=lambda line: (line.certificate.skill.order, not line.current))
