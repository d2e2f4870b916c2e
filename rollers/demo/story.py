"""What happened at the works: two weeks of history, then the week that is told.

A story of the week told that has not begun yet is history of the week before; one that has begun is told as far as
it has come.
"""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from rollers.causes.demo import breaks_at_b09, hunt, looks_before
from rollers.demo import acts
from rollers.demo.acts import World
from rollers.demo.grounds import ground
from rollers.demo.recipes import A05, draft_row, propose_lid
from rollers.demo.store import store_before, supplier_recall
from rollers.services.bodies import record_measurement

Act = Callable[[datetime], object]
Scene = tuple[int, str, Act]


def taping(world: World, position: str, applier: str, checker: str, day: int, times: str) -> list[Scene]:
    """Tape on, measured, checked: three scenes at three times of a day."""
    on, measured, checked = times.split()
    return [
        (day, on, lambda at: acts.put_on(world, position, position, applier, at)),
        (day, measured, lambda at: acts.measure(world, position, position, applier, at)),
        (day, checked, lambda at: acts.check(world, position, position, checker, at)),
    ]


def before(world: World) -> list[Scene]:
    """The two weeks up to the week told."""
    return [
        (-14, "06:30", lambda at: acts.start(world, "SF-17", "hanna", at)),
        (-14, "07:00", lambda at: acts.start(world, "PT-50", "hanna", at)),
        (-14, "07:30", lambda at: ground(world, at)),
        *taping(world, "B09", "tomas", "yuki", -13, "08:00 08:30 08:50"),
        *taping(world, "B04", "tomas", "yuki", -13, "09:10 09:30 09:45"),
        (-13, "10:00", lambda at: acts.start(world, "BO-35", "hanna", at)),
        *taping(world, "C06", "mei", "yuki", -13, "14:10 14:30 14:50"),
        (-13, "22:20", lambda at: acts.start(world, "ML-62", "babak", at)),
        (-4, "10:00", lambda at: propose_lid(world)),
    ]


def stretch_film(world: World) -> list[Scene]:
    """Monday, line A: the first roller with the wrinkle is A05. It is measured, sized, approved, taped, run."""

    def recipe(at: datetime) -> None:
        world.recipes["A05"] = draft_row(world, A05, at - timedelta(minutes=10))
        acts.sign_as_author(world, world.recipes["A05"], at)

    def level(at: datetime) -> None:
        record_measurement(
            quantity="misalignment_mm_per_m",
            value=0.07,
            position=world.works.positions["A05"],
            gauge=world.gauges["LV-1"],
            by=world.people["dara"],
            at=at,
        )

    def sheets(at: datetime) -> None:
        for product in A05[2]:
            acts.sheet(world, product, ["A05"], at)

    return [
        (0, "07:20", level),
        (0, "08:10", recipe),
        (0, "08:30", lambda at: acts.approve(world, world.recipes["A05"], at)),
        (0, "08:35", sheets),
        (0, "08:40", lambda at: acts.stop(world, "A", "hanna", at)),
        *taping(world, "A05", "ines", "dara", 0, "08:50 09:20 09:35"),
        (0, "09:45", lambda at: acts.start(world, "SF-17", "hanna", at)),
        (0, "10:25", lambda at: acts.restart(world, "A05", "ines", at, (1, 0, 0), before=3)),
    ]


def paper_after_film(world: World) -> list[Scene]:
    """Tuesday, line B: matt film to coated paper. Both taped rollers must be bare; B04 keeps residue and is cleaned."""
    return [
        (1, "10:00", lambda at: acts.stop(world, "B", "hanna", at)),
        (1, "10:20", lambda at: acts.take_off(world, "B09", "tomas", at)),
        (1, "10:35", lambda at: acts.take_off(world, "B04", "tomas", at, residue=True)),
        (1, "10:45", lambda at: acts.clean(world, "B04", "tomas", at)),
        (1, "10:50", lambda at: acts.start(world, "CP-70", "hanna", at)),
    ]


def film_again(world: World) -> list[Scene]:
    """Wednesday, line B, only where the paper ran in the week before: back to matt film."""
    return [
        (2, "08:00", lambda at: acts.stop(world, "B", "hanna", at)),
        *taping(world, "B09", "tomas", "yuki", 2, "08:20 08:50 09:10"),
        *taping(world, "B04", "tomas", "yuki", 2, "09:20 09:40 09:50"),
        (2, "10:00", lambda at: acts.start(world, "BO-35", "hanna", at)),
    ]


def film_tape_renewed(world: World) -> list[Scene]:
    """The Wednesday before, line B: fresh tape of the next lot, where the recall of the lot before lies behind."""
    return [
        (-5, "08:00", lambda at: acts.stop(world, "B", "hanna", at)),
        (-5, "08:05", lambda at: acts.take_off(world, "B09", "tomas", at)),
        (-5, "08:15", lambda at: acts.take_off(world, "B04", "tomas", at)),
        *taping(world, "B09", "tomas", "yuki", -5, "08:20 08:50 09:10"),
        *taping(world, "B04", "tomas", "yuki", -5, "09:20 09:40 09:50"),
        (-5, "10:00", lambda at: acts.start(world, "BO-35", "hanna", at)),
    ]


def ptfe_at_night(world: World) -> list[Scene]:
    """Wednesday night, line D for PT-100; then A05, whose tail has lifted, is taped anew."""

    retaped: list[str] = []

    def off(at: datetime) -> None:
        if world.is_on("A05", "taped"):
            acts.stop(world, "A", "babak", at)
            acts.take_off(world, "A05", "lena", at, reason="Tail lifted at the drive end")
            retaped.append("A05")

    def then(act: Act) -> Act:
        return lambda at: act(at) if retaped else None

    return [
        (2, "23:20", lambda at: acts.stop(world, "D", "babak", at)),
        (2, "23:40", lambda at: acts.put_on(world, "D04", "D04", "rui", at)),
        (3, "00:15", lambda at: acts.measure(world, "D04", "D04", "rui", at)),
        (3, "00:30", lambda at: acts.check(world, "D04", "D04", "lena", at)),
        (3, "00:40", lambda at: acts.start(world, "PT-100", "babak", at)),
        (3, "01:00", off),
        *((day, clock, then(act)) for day, clock, act in taping(world, "A05", "lena", "babak", 3, "01:10 01:25 01:35")),
        (3, "01:40", then(lambda at: acts.start(world, "SF-17", "babak", at))),
    ]


def ptfe_ends(world: World) -> list[Scene]:
    """The night to Friday, line D: the tape comes off again, two pieces of two."""

    def off(at: datetime) -> None:
        if world.is_on("D04", "taped"):
            acts.stop(world, "D", "babak", at)
            acts.take_off(world, "D04", "lena", at)
            acts.start(world, "PT-50", "babak", at)

    return [(4, "00:05", off)]


def pouch_tape_renewed(world: World) -> list[Scene]:
    """The Friday before, line C: C06 gets fresh tape."""
    return [
        (-3, "14:00", lambda at: acts.stop(world, "C", "mei", at)),
        (-3, "14:10", lambda at: acts.take_off(world, "C06", "mei", at)),
        *taping(world, "C06", "mei", "yuki", -3, "14:30 14:50 15:10"),
        (-3, "22:20", lambda at: acts.start(world, "ML-62", "babak", at)),
    ]


def piece_short(world: World) -> list[Scene]:
    """Friday to Saturday, line C: three pieces of four come off; the fourth turns up in the bag of edge trim.

    All pieces were last seen Thursday 22:10; the line stops at midnight. 110 min at 100 m/min are 11 000 m: seven
    rolls of 1 500 m and 500 m of the eighth.
    """
    lot, trim = "Lot taken back by the supplier", "In the bag of edge trim, laid out and counted with QA"
    quarter = timedelta(minutes=15)
    return [
        (
            4,
            "00:00",
            lambda at: acts.wind_rolls(
                world, "C", "lena", at, back_to=at - 110 * timedelta(minutes=1), each=quarter, length_m=1500, count=7
            ),
        ),
        (4, "00:00", lambda at: acts.stop(world, "C", "babak", at)),
        (4, "00:30", lambda at: acts.take_off_short(world, "C06", "lena", at, missing=1, reason=lot)),
        (5, "09:30", lambda at: acts.find_missing(world, "C06", "yuki", "lena", at, trim)),
        (5, "11:00", lambda at: acts.decide_hold(world, "C", at, released=5)),
        *taping(world, "C06", "mei", "yuki", 5, "14:10 14:30 14:50"),
        (5, "22:20", lambda at: acts.start(world, "ML-62", "babak", at)),
    ]


SHIFT_LOOKS = (("06:40", "tomas"), ("14:40", "mei"), ("22:10", "babak"))


def looks(world: World) -> list[Scene]:
    """Taped rollers are looked at: once a shift in the food and medical rooms, once a day elsewhere."""

    def seen(position: str, by: str) -> Act:
        def act(at: datetime) -> None:
            if world.is_on(position, "taped"):
                acts.look(world, position, by, at)

        return act

    strict = [
        (day, clock, seen(position, by))
        for day in range(-13, 7)
        for clock, by in SHIFT_LOOKS
        for position in ("B09", "B04", "C06")
    ]
    general = [(day, "07:10", seen(position, "ines")) for day in range(-6, 7) for position in ("A05", "D04")]
    return strict + general


def scenes_until(world: World, now: datetime) -> list[tuple[datetime, Act]]:
    """Every scene up to now with its moment, in the order of time."""
    played: list[tuple[datetime, Act]] = []

    def add(scenes: list[Scene], shifted: int = 0) -> None:
        played.extend((world.week.at(day + shifted, clock), act) for day, clock, act in scenes)

    def told(scenes: list[Scene]) -> bool:
        """Add a story to the week told if it has begun, else to the week before."""
        begun = world.week.at(scenes[0][0], scenes[0][1]) <= now
        add(scenes, 0 if begun else -7)
        return begun

    add(before(world))
    add(looks(world))
    add(store_before(world))
    recalled = told(supplier_recall(world))
    add(looks_before(world))
    add(breaks_at_b09(world))
    told([*hunt(world, now), *stretch_film(world)])
    if not told(paper_after_film(world)):
        add(film_again(world), -7)
    elif not recalled:
        add(film_tape_renewed(world))
    told(ptfe_at_night(world))
    told(ptfe_ends(world))
    if told(piece_short(world)):
        add(pouch_tape_renewed(world))
    return sorted((scene for scene in played if scene[0] <= now), key=lambda scene: scene[0])


def tell(world: World, now: datetime, beside: Sequence[tuple[datetime, Act]] = ()) -> None:
    """Play everything up to now, with what went on beside it, in the order of time; then plan what comes next."""
    for at, act in sorted([*scenes_until(world, now), *beside], key=lambda scene: scene[0]):
        act(at)
    plan_next(world, now)


NEXT = {
    "SF-17": "SF-23",
    "BO-35": "CP-70",
    "CP-70": "BO-20",
    "ML-62": "MP-75",
    "PT-50": "PT-100",
    "PT-100": "PT-50",
}
AFTER_A_STOP = {"A": "SF-17", "B": "CP-70", "C": "ML-62", "D": "PT-100"}


THEREAFTER = {"B": ("BO-35", "CP-70", "BO-20")}
"""Further runs of a line, so that their order can be thought about."""


def plan_next(world: World, now: datetime) -> None:
    """What each line is to run next; what stands in the way is on the ready boards."""
    for line, otherwise in AFTER_A_STOP.items():
        product = NEXT.get(acts.running(world, line), otherwise)
        acts.plan(world, product, "dara", now, now + timedelta(hours=4))
        for number, later in enumerate(THEREAFTER.get(line, ()), 2):
            acts.plan(world, later, "dara", now, now + timedelta(hours=4 * number))
