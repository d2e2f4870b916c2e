"""The week of the works, Monday to Saturday, played through the services: what it refuses, blocks, counts and holds.

The works, their people and figures are invented; the rules that they meet are tested one by one elsewhere.
"""

from datetime import UTC, datetime, timedelta

import pytest

from plant.errors import Refused
from plant.floor.models import Line
from rollers.demo.acts import plan, signed
from rollers.demo.loading import build
from rollers.demo.story import scenes_until
from rollers.models import Deviation, HeldRoll, Hold, Lockout, Lot, Piece, PieceFact
from rollers.queries_recalled import recalled_on
from rollers.rules_overrides import REASONS
from rollers.services.applications import begin_lockout
from rollers.services.overrides import grant_override
from rollers.services.runs import readiness_of, release_run

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
SUNDAY = datetime(2026, 3, 29, 20, 0, tzinfo=UTC)


class Told:
    """The works while their week is played, scene after scene."""

    def __init__(self) -> None:
        self.world = build(SUNDAY)
        self.scenes = iter(scenes_until(self.world, SUNDAY))
        self.following = next(self.scenes)

    def until(self, day: int, clock: str) -> datetime:
        """Play everything before a moment of the week, given in plant time."""
        moment = self.world.week.at(day, clock)
        while self.following and self.following[0] <= moment:
            at, act = self.following
            act(at)
            self.following = next(self.scenes, None)
        return moment

    def person(self, key):
        return self.world.people[key]

    def blocks(self, run, at):
        return {(block.sentence.split(":")[0], block.code) for block in readiness_of(run, at).blocks}


def override(told, code, position, at):
    return grant_override(
        Line.objects.get(code=position[0]),
        code,
        position=told.world.works.positions[position],
        reason_code=next(iter(REASONS)),
        reason="The order has to leave today, whatever happens.",
        ends_at=at + timedelta(hours=1),
        supervisor=signed(told.person("hanna"), at),
        second=signed(told.person("yuki"), at),
        at=at,
    )


def tuesday(told):
    """Matt film to coated paper: both taped rollers stand in the way, one by one; nobody lets them pass."""
    at = told.until(1, "10:05")
    run = plan(told.world, "CP-70", "hanna", at, at)
    at_first = told.blocks(run, at)
    assert {place for place, _ in at_first} == {"B09", "B04"}
    said = " ".join(block.sentence for block in readiness_of(run, at).blocks)
    assert "2.4" in said, "the edge ratio of B09 with the paper"
    for place, code in at_first:
        with pytest.raises(Refused) as refusal:
            override(told, code, place, at)
        assert refusal.value.code == "never-passed"
    with pytest.raises(Refused, match="2 things stand"):
        release_run(run, confirmation=signed(told.person("hanna"), at))
    at = told.until(1, "10:30")
    assert {place for place, _ in told.blocks(run, at)} == {"B04"}, "the forgotten roller"
    at = told.until(1, "10:40")
    assert told.blocks(run, at) == {("B04", "residue")}
    at = told.until(1, "10:45")
    assert told.blocks(run, at) == set()
    return run


def night_to_thursday(told):
    """A certificate ends at midnight: the begun step is finished, the next one is refused with the name of who can."""
    at = told.until(3, "00:20")
    finished = Deviation.objects.filter(person=told.person("rui"), severity=Deviation.Severity.INFO)
    assert {one.position.code for one in finished} == {"D04"}, "the begun step is told, and is no fault"
    with pytest.raises(Refused) as refusal:
        begin_lockout(told.world.works.positions["A05"], Lockout.Purpose.REMOVE, by=told.person("rui"), at=at)
    assert "Lena Oduya" in refusal.value.sentence


def recall(told):
    """The supplier takes a lot back: what is live is named, the medical line stops at once, the general one is told."""
    at = told.until(3, "23:56")
    places = told.world.works.positions
    live = recalled_on(places.values(), at)
    assert {code for code, place in places.items() if place.pk in live} == {"C06", "D04"}
    assert Lot.objects.get(status=Lot.Status.RECALLED).code == "2602-B"
    line_c = Line.objects.get(code="C").runs.get(state="released")
    assert ("C06", "recalled-lot") in told.blocks(line_c, at)
    line_d = Line.objects.get(code="D").runs.get(state="released")
    assert ("D04", "recalled-lot") not in told.blocks(line_d, at)


def friday(told):
    """Three pieces of four come off: everything since the last right count is held, and nobody overrides it."""
    at = told.until(4, "00:45")
    hold = Hold.objects.get()
    assert hold.since == told.world.week.at(3, "22:10")
    assert hold.metres == pytest.approx(11_000)
    rolls = list(hold.rolls.order_by("pk"))
    assert [round(one.length_m) for one in rolls] == [1500] * 7 + [500]
    assert [one.part for one in rolls] == [False] * 7 + [True]
    with pytest.raises(Refused) as refusal:
        override(told, "missing-piece", "C06", at)
    assert refusal.value.code == "never-passed"
    critical = Deviation.objects.filter(severity=Deviation.Severity.CRITICAL, closed_at=None)
    assert critical.filter(position__code="C06").exists()


def saturday(told):
    """The piece is found; QA releases five rolls, rejects two and the part roll, and closes the hold."""
    at = told.until(5, "09:45")
    assert PieceFact.objects.filter(state=PieceFact.State.FOUND).count() == 1
    assert Hold.objects.get().closed_at is None
    at = told.until(5, "11:30")
    assert Hold.objects.get().closed_at is not None and at
    decided = list(HeldRoll.objects.order_by("pk").values_list("decision", flat=True))
    assert decided == ["released"] * 5 + ["rejected"] * 3
    told.until(5, "22:30")
    assert Line.objects.get(code="C").runs.filter(state="released").exists()


def test_the_week_comes_out_as_told():
    told = Told()
    run = tuesday(told)
    assert run.pk
    night_to_thursday(told)
    recall(told)
    friday(told)
    saturday(told)
    told.until(6, "21:00")
    missing = [piece for piece in Piece.objects.all() if piece.facts.latest("pk").state == PieceFact.State.MISSING]
    assert missing == [], "every piece is on a roller, in a bag, or found"
