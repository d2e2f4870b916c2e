"""The way of a person to a certificate: what is done, what comes next, what is missing. Reads only."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from plant.floor.queries import plant_zone
from plant.people.models import Person
from training.grounds import Grounds
from training.independence import WORK_OF, cycle_start, session_trouble
from training.models import AttemptResult, Attendance, Certificate, JobDone, Practice, Skill, Verdict
from training.practicals import practicals_for
from training.queries import Held, Register, register, with_acts
from training.queries_modules import modules_now
from training.queries_practicals import joint_markings_asked, joint_markings_of
from training.rules import State
from training.rules_due import DueRule, Tier, tier, window_opens
from training.rules_paths import FRESH, Demand, Part, Way, keep_asked


@dataclass(frozen=True)
class PathView:
    """One skill on the page of a person."""

    skill: Skill
    held: Held | None
    way: Way
    since: datetime | None

    opens: date | None = None

    @property
    def begun(self) -> bool:
        """Whether anything was done for it. Modules are shared by skills: they tell only once all are read."""
        own = [each for each in self.way.demands if each.part != Part.NEEDS]
        return any(each.done if each.part == Part.MODULES else each.have for each in own)


def _practice_kind(skill: Skill) -> str:
    return {"check": Practice.Kind.SHADOW, "size": Practice.Kind.CASE, "teach": Practice.Kind.TEACHING}.get(
        skill.code, Practice.Kind.JOB
    )


class _Reader:
    """Reads what one person did for one skill since a moment."""

    def __init__(self, person: Person, skill: Skill, since: datetime | None, at: datetime, zone: ZoneInfo):
        oldest = at - FRESH
        self.person, self.skill, self.at, self.zone = person, skill, at, zone
        self.since = max(since, oldest) if since else oldest

    def day(self, at: datetime | None) -> date | None:
        return at.astimezone(self.zone).date() if at else None

    def modules(self) -> Demand:
        rows = modules_now(self.person, skill=self.skill.code)
        unread = [row.version for row in rows if not row.read]
        last = max((row.reading.at for row in rows if row.reading and row.read), default=None)
        step = ""
        if unread:
            named = {"number": unread[0].module.number, "title": unread[0].title}
            step = gettext("Read module %(number)s, %(title)s.") % named
        have = len(rows) - len(unread)
        return Demand(
            Part.MODULES, gettext("Modules read and understood"), len(rows), have, "", (), self.day(last), step
        )

    def lessons(self) -> Demand:
        rows = Attendance.objects.filter(
            person=self.person, corrected_by=None, minutes__gt=0, session__skill=self.skill
        )
        rows = rows.filter(session__starts_at__gte=self.since, session__starts_at__lte=self.at)
        counting = [
            row for row in rows.select_related("session__trainer", "session__skill") if not session_trouble(row.session)
        ]
        minutes = sum(row.minutes for row in counting)
        last = max((row.session.starts_at for row in counting), default=None)
        left = self.skill.course_minutes - minutes
        step = (
            gettext("Attend %(left)s more minutes of class; a trainer plans it.") % {"left": left} if left > 0 else ""
        )
        keys = tuple(row.pk for row in counting)
        return Demand(
            Part.CLASS, gettext("Class"), self.skill.course_minutes, minutes, "min", keys, self.day(last), step
        )

    def practice(self) -> Demand:
        kind = _practice_kind(self.skill)
        rows = list(Practice.objects.filter(person=self.person, skill=self.skill, kind=kind, done_at__gte=self.since))
        well = [row for row in rows if row.outcome == Practice.Outcome.WELL]
        # Jobs of the tape record beside somebody certified, of which the practice log does not speak.
        jobs = JobDone.objects.filter(
            person=self.person, kind__in=WORK_OF.get(self.skill.code, ()), supervised_by__isnull=False, practice=None
        ).filter(at__gte=self.since, at__lte=self.at)
        have = len(well) + jobs.count()
        last = max([row.done_at for row in well] + [job.at for job in jobs], default=None)
        label = {"job": "Supervised jobs", "shadow-check": "Shadow checks", "case": "Sizing cases"}.get(
            kind, "Practice"
        )
        left = {"left": self.skill.supervised_jobs - have}
        step = gettext("%(left)s more beside somebody certified, who signs for it.") % left
        keys = tuple(row.pk for row in well)
        return Demand(Part.PRACTICE, gettext(label), self.skill.supervised_jobs, have, "", keys, self.day(last), step)

    def test(self) -> Demand:
        found = AttemptResult.objects.filter(
            attempt__person=self.person, attempt__skill=self.skill, passed=True, at__gte=self.since, at__lte=self.at
        ).last()
        figures = {"asked": self.skill.test_questions, "share": self.skill.test_pass_percent}
        asked = gettext("Test: %(asked)s questions, %(share)s %% right") % figures
        if self.skill.test_safety_all_right:
            asked += ", " + gettext("every safety question right")
        keys = (found.attempt_id,) if found else ()
        day = self.day(found.at) if found else None
        step = gettext("Take the %(skill)s test.") % {"skill": self.skill.name}
        return Demand(Part.TEST, asked, int(self.skill.test_questions > 0), int(bool(found)), "", keys, day, step)

    def practicals(self) -> list[Demand]:
        rows = Verdict.objects.filter(
            assessment__person=self.person, assessment__skill=self.skill, at__gte=self.since, at__lte=self.at
        ).select_related("assessment", "candidate")
        demands = []
        for practical in practicals_for(self.skill.code):
            passed = [
                row
                for row in rows
                if row.assessment.kind == practical.kind
                and row.outcome == Verdict.Outcome.PASSED
                and hasattr(row, "candidate")
            ]
            last = passed[-1] if passed else None
            keys = (last.assessment_id,) if last else ()
            what = gettext("Practical: %(title)s") % {"title": gettext(practical.title)}
            step = gettext("An assessor who did not teach you watches it.")
            day = self.day(last.at) if last else None
            demands.append(Demand(Part.PRACTICAL, what, 1, int(bool(last)), "", keys, day, step, practical.kind))
        return demands

    def joint(self) -> Demand:
        found, asked = joint_markings_of(self.person, self.since), joint_markings_asked(self.skill.code)
        last = max((row.at for row in found), default=None)
        step = gettext("Mark beside another assessor, at least 90 %% alike.") % {}
        keys = tuple(row.pk for row in found)
        return Demand(Part.JOINT, gettext("Joint markings"), asked, len(found), "", keys, self.day(last), step)

    def needs(self, book: Register) -> list[Demand]:
        demands = []
        for code in book.needs[self.skill.code]:
            trouble = book.skill_trouble(self.person, code)
            step = f"{trouble.sentence} {gettext('That comes first.')}" if trouble else ""
            name = book.skills[code].name
            demands.append(
                Demand(
                    Part.NEEDS,
                    gettext("%(skill)s certificate") % {"skill": name},
                    1,
                    int(trouble is None),
                    "",
                    (),
                    None,
                    step,
                )
            )
        return demands


def _tier(person: Person, skill: Skill, at: datetime, zone: ZoneInfo, book: Register) -> Tier | None:
    """How late a renewal is; None where there is nothing to renew. Withdrawn is as if never held: all of it again."""
    ends = [each.valid_to for each in book.held.get(person.pk, {}).get(skill.code, []) if _stands(each, book)]
    return tier(max(ends), at.astimezone(zone).date(), skill.late_days) if ends else None


def _stands(certificate: Certificate, book: Register) -> bool:
    return book.state(certificate) != State.WITHDRAWN


def path_of(person: Person, skill: Skill, at: datetime, book: Register | None = None) -> PathView:
    """The way of a person to the next certificate of a skill."""
    zone, book = plant_zone(), book or register([person], at)
    since, late = cycle_start(person, skill, at), _tier(person, skill, at, zone, book)
    read = _Reader(person, skill, since, at, zone)
    demands = [
        *read.needs(book),
        read.modules(),
        read.lessons(),
        read.practice(),
        read.test(),
        *read.practicals(),
        read.joint(),
    ]
    held = book.holding(person, skill.code)
    return PathView(skill, held, Way(late, keep_asked(demands, late)), since, _opens(held, skill, read.day(at)))


def _opens(held: Held | None, skill: Skill, today: date | None) -> date | None:
    """The day from which a renewal keeps the rhythm; None where it is time, or where there is nothing to wait for."""
    if held is None or held.state != State.VALID or today is None:
        return None
    opens = window_opens(DueRule(skill.due_rule), held.certificate.valid_to, skill.window_days)
    return opens if today < opens else None


def what_is_missing(person: Person, skill: Skill, at: datetime) -> list[Demand]:
    """What stands between a person and the next certificate of a skill."""
    return path_of(person, skill, at).way.missing


def paths_of(person: Person, at: datetime) -> list[PathView]:
    """Every skill, in the order of the work."""
    book = register([person], at)
    return [path_of(person, skill, at, book) for skill in book.skills.values()]


def grounds_of(way: Way) -> Grounds:
    """The rows that a complete way stands on."""
    by_part: dict[Part, tuple[int, ...]] = {}
    for demand in way.demands:
        by_part[demand.part] = by_part.get(demand.part, ()) + demand.keys
    return Grounds(
        attendances=by_part.get(Part.CLASS, ()),
        attempts=by_part.get(Part.TEST, ()),
        practices=by_part.get(Part.PRACTICE, ()),
        assessments=by_part.get(Part.PRACTICAL, ()),
        markings=by_part.get(Part.JOINT, ()),
    )


def certificates_with_grounds(person: Person) -> list[Certificate]:
    """What was earned here, the newest first."""
    return list(with_acts().filter(person=person, founding=False).order_by("-issued_at"))
