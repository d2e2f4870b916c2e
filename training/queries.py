"""Who is certified for what: the one question the rest of the plant asks of training."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from plant.floor.queries import on_shift, plant_zone
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training import sentences
from training.models import Certificate, CertificateAct, Skill
from training.rules import State, deciding, lapses_at, state_at
from training.standard_skills import CHECK, HOT, IN_THE_ROOM, ROOM_ADD_ON


@dataclass(frozen=True)
class Standing:
    """May this person do this, here, now? If not, `code` and `sentence` say why and who can help.

    `exception` is what has to be noted although it is allowed: a step finished after the certificate ended.
    `answerable` is the certified person who answers for the work of a trainee.
    """

    ok: bool
    code: str
    sentence: str
    certificate: Certificate | None = None
    add_on: Certificate | None = None
    exception: str = ""
    answerable: Person | None = None


@dataclass(frozen=True)
class Held:
    """A certificate and what it is at the moment asked for."""

    certificate: Certificate
    state: State


def with_acts() -> QuerySet[Certificate]:
    """Certificates with what was done to them, ready for `state_at` without further queries."""
    acts = CertificateAct.objects.select_related("by").order_by("at", "pk")
    return Certificate.objects.select_related("skill").prefetch_related(Prefetch("acts", acts))


def state_of(certificate: Certificate, at: datetime, zone: ZoneInfo, *, ends: bool = True) -> State:
    """What a certificate (from `with_acts`) is at a moment; without `ends`, what it would be had it no last day."""
    return state_at(
        certificate.valid_from,
        certificate.valid_to if ends else date.max,
        certificate.acts.all(),
        at=at,
        zone=zone,
        # Founding evidence was earned before the records began, whenever it was taken over.
        issued_at=None if certificate.founding else certificate.issued_at,
    )


@dataclass(frozen=True)
class Register:
    """The certificates of some persons at one moment, read in a fixed number of queries."""

    at: datetime
    zone: ZoneInfo
    skills: dict[str, Skill]
    needs: dict[str, list[str]]
    held: dict[int, dict[str, list[Certificate]]]
    guests: frozenset[int]
    # A certificate that was valid at this earlier moment is not held to have lapsed: see `finishing`.
    started_at: datetime | None = None
    _decided: dict[tuple[int, str], Held | None] = field(default_factory=dict)

    def at_moment(self, at: datetime, *, started_at: datetime | None = None) -> "Register":
        """The same certificates at another moment, without asking the database again."""
        return replace(self, at=at, started_at=started_at, _decided={})

    def state(self, certificate: Certificate) -> State:
        """What a certificate is now."""
        found = state_of(certificate, self.at, self.zone)
        if found == State.LAPSED and self.started_at and self.started_at < lapses_at(certificate.valid_to, self.zone):
            return state_of(certificate, self.at, self.zone, ends=False)
        return found

    def holding(self, person: Person, skill_code: str) -> Held | None:
        """The certificate that decides for a skill; None where there never was one."""
        key = (person.pk, skill_code)
        if key not in self._decided:
            of_skill = self.held.get(person.pk, {}).get(skill_code, [])
            found = deciding([(self.state(each), each) for each in of_skill])
            self._decided[key] = Held(found[1], found[0]) if found else None
        return self._decided[key]

    def judge(self, person: Person, skill_code: str, room_kind: str, *, hot: bool = False) -> Standing:
        """The standing of a person, without the part of the sentence that names who can help."""
        return (
            self.absent(person)
            or self.skill_trouble(person, skill_code)
            or self._add_on_trouble(person, skill_code, room_kind, hot)
            or self._fine(person, skill_code, room_kind)
        )

    def allows(self, person: Person, skill_code: str, room_kind: str = "", *, hot: bool = False) -> bool:
        """The same as `judge`, yes or no, for who counts many persons."""
        if self.absent(person) is not None or not self._counts(person, skill_code):
            return False
        return all(self._counts(person, code) for code, _ in self._add_ons(skill_code, room_kind, hot))

    def _counts(self, person: Person, skill_code: str) -> bool:
        held = self.holding(person, skill_code)
        if held is None or held.state != State.VALID:
            return False
        return all(self._counts(person, need) for need in self.needs[skill_code])

    @staticmethod
    def _add_ons(skill_code: str, room_kind: str, hot: bool) -> list[tuple[str, str]]:
        """The add-ons that the place asks for, each with how the place is called."""
        if skill_code not in IN_THE_ROOM:
            return []
        asked = [(ROOM_ADD_ON[room_kind], f"a {room_kind} room")] if room_kind in ROOM_ADD_ON else []
        return asked + ([(HOT, "a hot roller")] if hot else [])

    def absent(self, person: Person) -> Standing | None:
        """Not of the plant now, or only a guest."""
        if person.active_to is not None and person.active_to <= self.at:
            return Standing(False, "left", sentences.left(person.name, person.active_to, self.zone))
        if person.active_from > self.at:
            return Standing(False, "not-joined", sentences.not_joined(person.name, person.active_from, self.zone))
        if person.employer == Person.Employer.OUTSIDE or person.pk in self.guests:
            return Standing(False, "outside", sentences.outside(person.name))
        return None

    def skill_trouble(self, person: Person, skill_code: str) -> Standing | None:
        """The first certificate that does not count: the skill's own, then those it is built on."""
        skill, held = self.skills[skill_code], self.holding(person, skill_code)
        if held is None:
            return Standing(False, "never-certified", sentences.never_certified(person.name, skill.name))
        if held.state != State.VALID:
            return Standing(False, held.state.value, self._why(held), held.certificate)
        for need in self.needs[skill_code]:
            trouble = self.skill_trouble(person, need)
            if trouble is not None:
                sentence = sentences.needed_beside(skill.name, self.skills[need].name, trouble.sentence)
                return Standing(False, trouble.code, sentence, trouble.certificate)
        return None

    def _add_on_trouble(self, person: Person, skill_code: str, room_kind: str, hot: bool) -> Standing | None:
        for code, place in self._add_ons(skill_code, room_kind, hot):
            name, own = self.skills[code].name, self.holding(person, skill_code)
            trouble = self.skill_trouble(person, code)
            if trouble is None:
                continue
            base = own.certificate if own else None
            if trouble.certificate is None:
                sentence = sentences.add_on_missing(person.name, self.skills[skill_code].name, name, place)
                return Standing(False, "add-on-missing", sentence, base)
            refusal = sentences.ADD_ON_CODES[State(trouble.code)]
            sentence = sentences.add_on_trouble(name, place, trouble.sentence)
            return Standing(False, refusal, sentence, base, trouble.certificate)
        return None

    def _fine(self, person: Person, skill_code: str, room_kind: str) -> Standing:
        own, add_on = self.holding(person, skill_code), None
        if skill_code in IN_THE_ROOM and room_kind in ROOM_ADD_ON:
            add_on = self.holding(person, ROOM_ADD_ON[room_kind])
        last = min(held.certificate.valid_to for held in (own, add_on) if held is not None)
        sentence = f"{person.name} may: {self.skills[skill_code].name} is valid to the end of {sentences.day(last)}."
        return Standing(True, "ok", sentence, own.certificate if own else None, add_on.certificate if add_on else None)

    def _why(self, held: Held) -> str:
        mine, acts = held.certificate, [act for act in held.certificate.acts.all() if act.at <= self.at]
        deeds = [sentences.Deed(act.by.name, act.at, act.reason) for act in acts if act.kind == held.state.value]
        return sentences.certificate_trouble(
            mine.person.name,
            mine.skill.name,
            mine.number,
            held.state,
            first=mine.valid_from,
            last=mine.valid_to,
            issued=None if mine.founding else mine.issued_at,
            deed=deeds[-1] if deeds else None,
            zone=self.zone,
        )


def register(persons: Iterable[Person], at: datetime, *, known_then: bool = False) -> Register:
    """Read the certificates of these persons; with `known_then`, only those that were on record at that moment."""
    ids = {person.pk for person in persons}
    skills = {skill.code: skill for skill in Skill.objects.prefetch_related("needs")}
    held: dict[int, dict[str, list[Certificate]]] = defaultdict(lambda: defaultdict(list))
    found = with_acts().select_related("person").filter(person__in=ids)
    for each in found.filter(issued_at__lte=at) if known_then else found:
        held[each.person_id][each.skill.code].append(each)
    guests = people_with_role(Role.GUEST, at=at).filter(pk__in=ids).values_list("pk", flat=True)
    needs = {code: [need.code for need in skill.needs.all()] for code, skill in skills.items()}
    return Register(at, plant_zone(), skills, needs, held, frozenset(guests))


def who_may(
    skill_code: str, room_kind: str, at: datetime, *, excluding: Collection[Person] = (), hot: bool = False
) -> list[Person]:
    """Persons on the present shift who may do it, by name."""
    left_out = {person.pk for person in excluding}
    crew = [person for person in on_shift(at) if person.pk not in left_out]
    book = register(crew, at)
    return [person for person in crew if book.judge(person, skill_code, room_kind, hot=hot).ok]


def who_can_help(
    skill_code: str, room_kind: str, at: datetime, *, excluding: Collection[Person] = (), hot: bool = False
) -> str:
    """The sentence that names who on this shift may do it, or whom to ask."""
    able = [person.name for person in who_may(skill_code, room_kind, at, excluding=excluding, hot=hot)]
    if able:
        return sentences.who_can(able, (), ())
    left_out = {person.pk for person in excluding}
    present_ids = {person.pk for person in on_shift(at)}
    supervisors = [each for each in people_with_role(Role.SUPERVISOR, at=at) if each.pk not in left_out]
    present = [each.name for each in supervisors if each.pk in present_ids]
    trainers = [each.name for each in people_with_role(Role.TRAINER, at=at) if each.pk not in left_out]
    return sentences.who_can((), present or [each.name for each in supervisors], trainers)


def standing(
    person: Person,
    skill_code: str,
    room_kind: str,
    at: datetime,
    *,
    hot: bool = False,
    started_at: datetime | None = None,
) -> Standing:
    """May this person do this, in a room of this kind (on a hot roller), at this moment?

    A refusal says why and ends with who on this shift may do it, or whom to ask when nobody may. With
    `started_at`, the step was begun then: who was certified may finish it to a safe state though the certificate
    has ended meanwhile, and may neither begin another nor check.
    """
    book = register([person], at)
    found = book.judge(person, skill_code, room_kind, hot=hot)
    if not found.ok and started_at is not None:
        found = finishing(book, person, skill_code, room_kind, started_at, hot=hot) or found
    if found.ok:
        return found
    help_sentence = who_can_help(skill_code, room_kind, at, excluding=[person], hot=hot)
    return replace(found, sentence=f"{found.sentence} {help_sentence}")


def finishing(
    book: Register, person: Person, skill_code: str, room_kind: str, started_at: datetime, *, hot: bool
) -> Standing | None:
    """The standing of who began a step while certified and whose certificate ended since; None where that is not so.

    Only the end of days is passed over: who was suspended meanwhile hands over, also in the middle of a job.
    """
    if skill_code == CHECK or started_at >= book.at:
        return None
    begun = book.at_moment(started_at).judge(person, skill_code, room_kind, hot=hot)
    kept = book.at_moment(book.at, started_at=started_at).judge(person, skill_code, room_kind, hot=hot)
    if not (begun.ok and kept.ok):
        return None
    ended = book.judge(person, skill_code, room_kind, hot=hot).sentence
    said = sentences.finishing(person.name, started_at, ended, book.zone)
    return replace(kept, code="finishing", sentence=said, exception=said)


def is_certified(person: Person, level: str, room_class: str, at: datetime, *, hot: bool = False) -> bool:
    """The same question where only yes or no is wanted."""
    return register([person], at).judge(person, level, room_class, hot=hot).ok
