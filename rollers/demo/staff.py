"""Entering the invented people: roles, certificates from the paper files, and who works when."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from plant.floor.services import plan_shifts, set_crew, set_shift_patterns
from plant.people.models import Person, Role
from plant.people.services import choose_secret, join
from rollers.demo.cast import DEMO_PASSWORD, GUEST, STAFF
from rollers.demo.week import Week
from training.services import ask_refresher, import_founding_certificate, raise_dues
from training.services.warning import warn_of_gaps

GO_LIVE = -21
PATTERNS = (("Early", time(6), time(14)), ("Late", time(14), time(22)), ("Night", time(22), time(6)))
RUIS_LAST_DAY = 2  # Wednesday of the week told
# Papers that end soon after the week told, so that the due wall has something to say.
ENDING = {("rui", "apply"): RUIS_LAST_DAY, ("tomas", "food"): 27, ("kwame", "hot"): 48}


def _first_day(person: int, skill: int, week: Week) -> date:
    """Certificates were earned on different days of the last months, all of them well before and after the demo."""
    return week.day(-150 - 7 * person - 3 * skill)


def enter_staff(week: Week) -> dict[str, Person]:
    """The system keeper comes first and enters the others; each then has the demo password."""
    at, people = week.at(GO_LIVE, "07:00"), dict[str, Person]()
    for member in (*STAFF, GUEST):
        outside = member is GUEST
        person = join(
            staff_no=member.staff_no,
            name=member.name,
            roles=[Role(role) for role in member.roles],
            active_from=week.at(GO_LIVE, "06:00"),
            active_to=week.at(9, "00:00") if outside else None,
            employer=Person.Employer.OUTSIDE if outside else Person.Employer.PLANT,
            home_shift=member.shift,
            by=people.get("noor"),
            at=at,
        )
        choose_secret(person, new=DEMO_PASSWORD, at=at)
        people[member.key] = person
    return people


def take_over_certificates(people: dict[str, Person], week: Week) -> None:
    """What the paper files prove, as founding certificates."""
    at = week.at(GO_LIVE, "08:00")
    for row, member in enumerate(STAFF):
        for column, skill in enumerate(member.skills):
            first = _first_day(row, column, week)
            last = first + timedelta(days=730 if skill in ("aware", "size", "teach", "assess") else 365)
            if (member.key, skill) in ENDING:
                last = week.day(ENDING[member.key, skill])
                first = last - timedelta(days=365)
            import_founding_certificate(
                people[member.key],
                skill,
                valid_from=first,
                valid_to=last,
                evidence=f"Training file of the works, folder {member.staff_no}, sheet {column + 1}",
                by=people["noor"],
                at=at,
            )


def crew_of(shift: str, weekday: int, people: dict[str, Person]) -> Iterable[Person]:
    """Who works a shift on a weekday (Monday is 0). At the weekend fewer."""
    if weekday >= 5:
        keys = {"Early": ("tomas", "yuki", "hanna"), "Late": ("mei", "ines"), "Night": ("babak", "lena", "rui")}
    else:
        late = ("mei", "kwame", "lena") if weekday < 2 else ("mei", "kwame")
        night = ("babak", "rui") if weekday < 2 else ("babak", "lena", "rui")
        early = ("hanna", "ines", "tomas", "dara", "yuki", "greta", "sol", "noor", "edda")
        keys = {"Early": early, "Late": late, "Night": night}
    return [people[key] for key in keys[shift]]


def plan_weeks(people: dict[str, Person], week: Week) -> None:
    """Shifts with crews for the week before, the week told and the next."""
    by, at = people["hanna"], week.at(-19, "09:00")
    set_shift_patterns(PATTERNS, by=by, at=at)
    for shift in plan_shifts(week.day(-7), week.day(13), by=by, at=at):
        set_crew(shift, crew_of(shift.name, shift.date.weekday(), people), by=by, at=at)


def ask_for_refreshers(people: dict[str, Person], week: Week) -> None:
    """A textured tape came to the medical room: who puts it on there learns it first."""
    ask_refresher(
        people["mei"],
        "apply",
        "new-stock",
        reason="Tape T5 is new in room M1: its texture hides a lifted tail",
        subject="room M1, tape T5",
        due_on=week.day(11),
        by=people["yuki"],
        at=week.at(-5, "10:00"),
    )


def remind(now: datetime) -> None:
    """The clock of training has run up to now."""
    raise_dues(now)
    warn_of_gaps(now)
