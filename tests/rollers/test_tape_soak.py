"""Long seeded runs: whatever people try in whatever order, no piece is lost or made and nothing forbidden comes about.

`./dev test` does a fixed twentieth, `./dev soak` all.
"""

import random
from datetime import timedelta
from itertools import pairwise

import pytest
from django.db import transaction

from plant.audit.canonical import ZERO, chained
from plant.audit.models import Event
from plant.errors import Refused
from rollers.models import TapeFact
from rollers.readiness import readiness
from rollers.services.applying import apply_tape, check_tape, measure_tape
from rollers.services.mountings import turn_body
from rollers.services.removing import clean_roller, remove_tape
from rollers.services.runs import end_run, plan_run, release_run
from tests import make
from tests.rollers.scenes import STEPS, both, line_a

SEQUENCES, ACTS = 12, 40
# From state to state by kind of fact: what may follow what.
FOLLOWS = {
    "applied": {("bare", "taped")},
    "measured": {("taped", "taped")},
    "checked": {("taped", "taped")},
    "removed": {("taped", "bare"), ("taped", "residue"), ("taped", "partial"), ("partial", "bare"),
                ("partial", "residue"), ("partial", "partial")},
    "cleaned": {("residue", "bare")},
}  # fmt: skip


class Shift:
    """Random hands at one roller of line A; each act is tried, done or refused."""

    def __init__(self, scene, version, seed):
        self.scene, self.version, self.dice = scene, version, random.Random(seed)
        self.now, self.done, self.refused = make.AT, 0, 0
        cast = scene.cast
        self.hands = [cast.ines, cast.dara, cast.hanna, cast.yuki]

    def common(self):
        self.now += timedelta(minutes=self.dice.randint(0, 5))
        return {"by": self.dice.choices(self.hands, weights=[5, 4, 1, 1])[0], "at": self.now}

    def lock(self):
        steps = STEPS if self.dice.random() < 0.9 else STEPS[: self.dice.randint(0, 5)]
        return {"lockout": steps, "lock_number": "L-1"}

    def apply(self):
        apply_tape(
            self.scene["A05"],
            self.version,
            step=self.scene.step("A05"),
            pieces=self.dice.choice([8, 8, 8, 8, 7]),
            **self.lock(),
            **self.common(),
        )

    def measure(self):
        build = self.dice.choice([0.56, 0.56, 0.4])
        measure_tape(self.scene["A05"], builds={"operator": 0.56, "drive": build}, **self.common())

    def check(self):
        fields = {"pieces": self.dice.choice([8, 8, 6]), "tail_trails": self.dice.random() < 0.8}
        check_tape(self.scene["A05"], **fields, **self.common())

    def remove(self):
        pieces, residue = self.dice.choice([8, 8, 4, 3, 9, 0]), self.dice.random() < 0.3
        remove_tape(self.scene["A05"], pieces=pieces, residue=residue, **self.lock(), **self.common())

    def clean(self):
        clean_roller(self.scene["A05"], agent="dry wipe", **self.common())

    def turn(self):
        common = self.common()
        turn_body(self.scene["A05"], by=self.scene.cast.kwame, at=common["at"])

    def release(self):
        version, path = self.scene.versions["SF-17"], self.scene.path
        points = {"tension_n_per_m": 50, "speed_m_per_min": 280}
        hanna, now = self.scene.cast.hanna, self.common()["at"]
        run = plan_run(path=path, version=version, starts_at=now, by=hanna, at=now, **points)
        blocked = bool(readiness(path, version, at=now).blocks)
        try:
            with transaction.atomic():
                release_run(run, confirmation=make.confirmation(hanna, now))
            assert not blocked, "a run was released over a block"
        finally:
            end_run(run, by=hanna, at=now)

    @property
    def all_acts(self):
        return [self.apply, self.measure, self.check, self.remove, self.clean, self.release, self.turn]

    def sensible(self):
        """What a person who looks would do next; the others are tried as well."""
        fact = TapeFact.objects.filter(body__serial="R-A05").latest("pk")
        if fact.state == "taped":
            return [self.measure, self.measure] if not fact.measured else [self.check, self.release, self.remove]
        return {"bare": [self.apply], "partial": [self.remove], "residue": [self.clean]}[fact.state]

    def go(self, acts):
        for _ in range(acts):
            act = self.dice.choice([*self.all_acts, *3 * self.sensible()])
            try:
                with transaction.atomic():
                    act()
                self.done += 1
            except Refused as refusal:
                assert refusal.sentence.strip(), "a refusal without a sentence"
                self.refused += 1


def look_over(scene):
    """The history of the roller must read as a chain of allowed steps with every piece accounted for."""
    facts = list(TapeFact.objects.filter(body__serial="R-A05").order_by("pk"))
    for before, after in pairwise(facts):
        assert (before.state, after.state) in FOLLOWS[after.kind], (before, after)
        if after.kind == "applied":
            assert (before.pieces, after.pieces, after.measured, after.checked) == (0, 8, False, False)
        elif after.kind == "removed":
            assert before.pieces == after.pieces + after.details["pieces_removed"]
        else:
            assert after.pieces == before.pieces
        if after.kind == "checked":
            assert after.by_id != after.applier_id and before.measured
        assert after.at >= before.at
    links: dict[str, str] = {}
    for event in Event.objects.order_by("stream", "seq"):
        assert event.previous_hash == links.get(event.stream, ZERO)
        assert event.hash == chained(event.previous_hash, event.body.encode())
        links[event.stream] = event.hash


class Undone(Exception):
    """Takes a sequence back, so that the next starts from the same plant."""


@pytest.mark.django_db
@pytest.mark.db_both
def test_random_hands_lose_no_piece_and_release_no_line_over_a_block(cast, soak_factor):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17", "SF-23"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    assert cast.kwame and cast.yuki  # made before the first sequence is taken back
    done = refused = 0
    for seed in range(SEQUENCES * soak_factor):
        hands = Shift(scene, version, seed)
        with pytest.raises(Undone), transaction.atomic():
            hands.go(ACTS)
            look_over(scene)
            raise Undone
        done, refused = done + hands.done, refused + hands.refused
    print(f"{SEQUENCES * soak_factor} sequences: {done} acts done, {refused} refused")
    assert done > SEQUENCES * soak_factor and refused > SEQUENCES * soak_factor
