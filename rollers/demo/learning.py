"""Learning at the works: a trial of the question bank, a trainee half way, and a lapse that is mended.

Told as far as the week has come: a certificate that was earned on Saturday is not earned on Wednesday.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random

from plant.people.models import Person
from rollers.demo.acts import World, signed
from rollers.demo.cast import STAFF
from training.models import Assessment, Attempt, ModuleVersion, Skill
from training.queries_learning import rollers_to_draw
from training.services.assessing import begin_assessment, candidate_signs, end_assessment, mark_again, mark_step
from training.services.certifying import certify
from training.services.content import lay_down_content
from training.services.reading import read_module
from training.services.teaching import plan_session, record_attendance, record_practice
from training.services.testing import begin_attempt, hand_in

Act = Callable[[datetime], object]
# Everybody tried these papers once after go-live, so that the figures of the questions have something to stand on.
TRIAL = ("aware", "apply", "check", "food")


def skill(code: str) -> Skill:
    """A skill by its code."""
    return Skill.objects.get(code=code)


def read(person: Person, code: str, at: datetime, most: int = 99) -> None:
    """Read the modules of a skill, in their order, up to so many."""
    rows = [row for row in ModuleVersion.objects.filter(lang="en").order_by("module") if code in row.skills]
    for number, version in enumerate(rows[:most]):
        when = at + timedelta(minutes=15 * number)
        if not version.needs_signature:
            read_module(version, opened_at=when - timedelta(minutes=12), by=person, at=when)
        else:
            read_module(version, opened_at=when, by=person, at=when, confirmation=signed(person, when))


def ticks(attempt: Attempt, chance: Random, skilled: float) -> dict[int, int]:
    """How somebody answers: safety is known best, and who knows more answers more rightly."""
    found = {}
    for row in attempt.drawn.select_related("version"):
        right = row.order.index(row.version.answer)
        knows = chance.random() < skilled + (0.05 if row.version.safety else 0.0)
        found[row.place] = right if knows else (right + chance.choice((1, 2, 3))) % 4
    return found


def sit(person: Person, code: str, at: datetime, *, skilled: float, seed: str) -> bool:
    """One test, from beginning to end."""
    attempt = begin_attempt(person, skill(code), lang="en", seed=seed, at=at)
    given = ticks(attempt, Random(seed), skilled)  # noqa: S311  (an invented person answers the same every time)
    return hand_in(attempt, given, by=person, at=at + timedelta(minutes=14)).passed


def try_the_bank(world: World, at: datetime) -> None:
    """Everybody takes the papers once, a day after another."""
    for row, member in enumerate(each for each in STAFF if each.key not in ("noor", "tilda", "rui")):
        for column, code in enumerate(TRIAL):
            when, seed = at + timedelta(hours=24 * column, minutes=20 * row), f"trial {member.key} {code}"
            sit(world.people[member.key], code, when, skilled=0.76 + 0.02 * row, seed=seed)


def teach(world: World, code: str, title: str, people: tuple[str, ...], at: datetime, minutes: int) -> None:
    """Greta teaches; each person's attendance is an act of its own."""
    greta = world.people["greta"]
    session = plan_session(
        skill(code),
        title=title,
        starts_at=at,
        ends_at=at + timedelta(minutes=minutes),
        place="Training room",
        trainer=greta,
        invited=[world.people[key] for key in people],
        by=greta,
        at=at - timedelta(days=2),
    )
    for key in people:
        record_attendance(
            session, world.people[key], minutes=minutes, note="", by=greta, at=at + timedelta(minutes=minutes)
        )


def plan(world: World, at: datetime, days: int) -> None:
    """A class that is still to come."""
    greta, starts = world.people["greta"], at + timedelta(days=days)
    plan_session(
        skill("apply"),
        title="Removal, residue and count, for everybody who tapes",
        starts_at=starts,
        ends_at=starts + timedelta(minutes=90),
        place="Training room",
        trainer=greta,
        invited=[world.people["ines"], world.people["tomas"]],
        by=greta,
        at=at,
    )


def practise(world: World, by: str, place: str, at: datetime, outcome: str, note: str) -> None:
    """The trainee does a job beside somebody certified, who signs for it."""
    record_practice(
        world.people["tilda"],
        skill("apply"),
        kind="job",
        place=place,
        room_kind="general",
        done_at=at,
        outcome=outcome,
        note=note,
        confirmation=signed(world.people[by], at + timedelta(minutes=40)),
    )


def assess(world: World, who: str, at: datetime, not_done: tuple[int, ...], note: str) -> Assessment:
    """Dara watches fifteen steps, and both sign."""
    dara, person = world.people["dara"], world.people[who]
    made = begin_assessment(
        person,
        skill("apply"),
        "taping",
        assessor=dara,
        rollers=rollers_to_draw(),
        seed=f"practical {who}",
        at=at,
    )
    for step in range(1, 16):
        mark = "not-done" if step in not_done else "done"
        mark_step(made, step, mark, by=dara, at=at + timedelta(minutes=3 * step))
    end = at + timedelta(minutes=50)
    verdict = end_assessment(made, note=note, confirmation=signed(dara, end))
    candidate_signs(verdict, confirmation=signed(person, end + timedelta(minutes=5)))
    return made


def look_again(world: World, at: datetime) -> None:
    """Kwame's Apply rests on papers: Dara assesses, and Greta marks beside her."""
    made = assess(world, "kwame", at, (6,), "Check the band against the web edge before winding.")
    marks = {step: "not-done" if step in (6,) else "not-seen" if step == 10 else "done" for step in range(1, 16)}
    mark_again(made, "joint", marks, confirmation=signed(world.people["greta"], at + timedelta(hours=1)))


def certify_rui(world: World, at: datetime) -> None:
    """QA issues what Rui earned again."""
    certify(world.people["rui"], skill("apply"), confirmation=signed(world.people["yuki"], at))


def scenes(world: World) -> list[tuple[int, str, Act]]:
    """Day, plant time and act, in the order of time."""
    people = world.people
    return [
        (-20, "07:00", lambda at: lay_down_content(at=at)),
        (-19, "08:00", lambda at: try_the_bank(world, at)),
        (-12, "08:00", lambda at: read(people["tilda"], "apply", at, most=7)),
        (-11, "09:00", lambda at: teach(world, "apply", "Apply, from lockout to count", ("tilda",), at, 180)),
        (-10, "10:00", lambda at: look_again(world, at)),
        (-7, "14:30", lambda at: sit(people["tilda"], "apply", at, skilled=0.6, seed="tilda, first try")),
        (-6, "07:30", lambda at: practise(world, "ines", "A08", at, "well", "Four lanes, tails right at once.")),
        (-5, "08:10", lambda at: practise(world, "ines", "A02", at, "again", "One lane lay over the next; done anew.")),
        (-4, "11:00", lambda at: practise(world, "kwame", "D04", at, "well", "Right count, said the direction aloud.")),
        (-3, "09:00", lambda at: plan(world, at, 12)),
        (3, "09:00", lambda at: teach(world, "apply", "Refresher after a lapse", ("rui",), at, 90)),
        (3, "10:40", lambda at: read(people["rui"], "apply", at)),
        (4, "14:00", lambda at: sit(people["rui"], "apply", at, skilled=1.0, seed="rui")),
        (5, "07:00", lambda at: assess(world, "rui", at, (6,), "Good hands; look at the web edge first.")),
        (5, "09:00", lambda at: certify_rui(world, at)),
    ]


def learning_until(world: World, now: datetime) -> list[tuple[datetime, Act]]:
    """Everything that was learnt up to now, with its moment."""
    told = [(world.week.at(day, clock), act) for day, clock, act in scenes(world)]
    # What takes hours is told when it is over; nothing may be recorded before it happened.
    return [(at, act) for at, act in told if at + timedelta(hours=3) <= now]
