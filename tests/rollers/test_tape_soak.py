"""Long generated runs: whatever people try in whatever order, no piece is lost or made and nothing forbidden happens.

A state machine that hypothesis drives: sensible next steps mixed with every other act, by anybody, at any time. `./dev
test` does a fixed twentieth of the sequences, `./dev soak` all; both print how many acts were done and refused.
"""

from collections import Counter
from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from plant.audit.canonical import ZERO, chained
from plant.audit.models import Event
from plant.errors import Refused
from plant.floor.models import Run
from rollers.demo import hands
from rollers.models import Application, Piece, PieceFact, Reel, ReelMove, TapeFact
from rollers.queries_application import is_counted, lock_of, open_application, pieces_on, with_state
from rollers.queries_store import lot_ledger, reel_now
from rollers.readiness import readiness
from rollers.rules_application import AFTER, LOCKOUT, RestartStep, next_restart_step
from rollers.services.applications import begin_application, begin_lockout, confirm_lockout, void_application
from rollers.services.applying import wind_tape
from rollers.services.checking import check_tape
from rollers.services.handing_over import hand_over_job
from rollers.services.judging import Done
from rollers.services.lockouts import next_step, take_lock_off
from rollers.services.looking import look_bare, record_look
from rollers.services.measuring import count_back, measure_tape
from rollers.services.mountings import turn_body
from rollers.services.removing import begin_removal, clean_roller, finish_removal, stop_removal
from rollers.services.reporting import report_done
from rollers.services.restarting import record_restart
from rollers.services.runs import end_run, plan_run, release_run
from rollers.services.settling import confirm_report, resolve_conflict
from rollers.services.spot import Sent
from tests import make
from tests.rollers.scenes import both, line_a

SEQUENCES, ACTS = 100, 12
TALLY: Counter[str] = Counter()
HANDS = st.sampled_from(["ines", "ines", "ines", "dara", "dara", "lena", "hanna"])


class Undone(Exception):
    """Takes a sequence back, so that the next starts from the same plant."""


class Plant:
    """One scene for all sequences; each runs in a transaction that is taken back."""

    scene = None
    version = None


class Roller(RuleBasedStateMachine):
    """Random hands at roller A05 of line A."""

    def __init__(self):
        super().__init__()
        self.block = transaction.atomic()
        self.block.__enter__()
        self.scene, self.version, self.cast = Plant.scene, Plant.version, Plant.scene.cast
        self.position, self.step = self.scene["A05"], self.scene.step("A05")
        self.body = self.position.mountings.get(removed_at=None).body
        self.at, self.visited = make.AT, {}

    def teardown(self):
        try:
            self.look_at_the_chain()
        finally:
            self.block.__exit__(Undone, Undone(), None)

    # --- acts -----------------------------------------------------------------------------------------------

    def attempt(self, name, act):
        """Try; a refusal has a sentence and changes nothing."""
        self.at += timedelta(minutes=6)
        try:
            with transaction.atomic():
                act()
            TALLY["done"] += 1
            TALLY[name] += 1
        except Refused as refusal:
            assert refusal.sentence.strip(), "a refusal without a sentence"
            TALLY["refused"] += 1

    def who(self, name):
        return getattr(self.cast, name)

    def usual(self, name):
        return {"by": self.who(name), "at": self.at}

    @rule(name=HANDS)
    def begin(self, name):
        self.attempt(
            "begin", lambda: begin_application(self.position, self.version, step=self.step, **self.usual(name))
        )

    @rule(name=HANDS, purpose=st.sampled_from(["apply", "remove", "clean"]))
    def begin_to_lock_out(self, name, purpose):
        self.attempt("begin-lockout", lambda: begin_lockout(self.position, purpose, **self.usual(name)))

    @rule(name=HANDS, key=st.sampled_from([key for key, _ in LOCKOUT]))
    def confirm_any_step(self, name, key):
        self.attempt("step", lambda: confirm_lockout(self.position, key, lock_number="L-1", **self.usual(name)))

    @rule(name=HANDS)
    def lock_out_to_the_end(self, name):
        lock = lock_of(self.position, self.who(name).pk)
        while lock is not None and (key := next_step(lock)):
            before = len(lock.steps)
            self.attempt("step", lambda key=key: self.confirm(key, name))
            lock = lock_of(self.position, self.who(name).pk)
            if lock is None or len(lock.steps) == before:
                break

    def confirm(self, key, name):
        confirm_lockout(self.position, key, lock_number="L-1", **self.usual(name))

    @rule(name=HANDS)
    def prepare(self, name):
        self.attempt("prepare", lambda: hands.prepare(self.position, **self.usual(name)))

    @rule(name=HANDS, count=st.sampled_from([8, 8, 8, 7]), trails=st.sampled_from([True, True, True, False]))
    def wind(self, name, count, trails):
        wound = dict.fromkeys(range(1, count + 1), self.scene.reel("A05", self.version))
        given = {"step": self.step, "wound": wound, "tail_trails": trails, "finish_over_start": True}
        self.attempt("wind", lambda: wind_tape(self.position, **given, **self.usual(name)))

    @rule(name=HANDS, build=st.sampled_from([0.56, 0.56, 0.56, 0.4]))
    def measure(self, name, build):
        self.at += timedelta(minutes=10)
        builds, edges = {"operator": 0.56, "drive": build}, {"operator": 600.0, "drive": 600.0}
        self.attempt("measure", lambda: measure_tape(self.position, builds=builds, edges=edges, **self.usual(name)))

    @rule(name=HANDS, count=st.sampled_from([8, 8, 7]))
    def count(self, name, count):
        self.attempt("count", lambda: count_back(self.position, pieces=count, offcuts=1, **self.usual(name)))

    @rule(name=HANDS)
    def lock_off(self, name):
        lock = lock_of(self.position, self.who(name).pk)
        if lock is not None:
            self.attempt("lock-off", lambda: take_lock_off(lock, clear=True, told=True, **self.usual(name)))

    @rule(name=HANDS, count=st.sampled_from([8, 8, 6]), trails=st.booleans())
    def check(self, name, count, trails):
        self.attempt("check", lambda: check_tape(self.position, pieces=count, tail_trails=trails, **self.usual(name)))

    @rule(name=HANDS, grade=st.integers(0, 2), step=st.sampled_from(["", "", "crawl", "half", "full"]))
    def restart(self, name, grade, step):
        job = open_application(self.body)
        facts = TapeFact.objects.filter(application=job, kind="restart") if job else []
        due = next_restart_step([_restart_step(fact) for fact in facts])
        wanted = step or due or "crawl"
        speed, minutes = {"crawl": (30, 2), "half": (140, 5), "full": (280, 30)}[wanted]
        given = {"step": wanted, "speed": speed, "minutes": minutes, "grade": grade, "downstream": True}
        self.attempt("restart", lambda: record_restart(self.position, **given, **self.usual(name)))

    @rule(name=HANDS, seen=st.sampled_from([8, 8, 8, 7]), result=st.sampled_from(["ok", "ok", "watch", "fail"]))
    def look(self, name, seen, result):
        defects = [] if result == "ok" else ["tail"]
        given = {"result": result, "defects": defects, "pieces_seen": seen}
        self.attempt("look", lambda: record_look(self.position, **given, **self.usual(name)))

    @rule(name=HANDS)
    def look_and_say_bare(self, name):
        self.attempt("bare", lambda: look_bare(self.position, clean=True, **self.usual(name)))

    @rule(name=HANDS)
    def begin_to_remove(self, name):
        self.attempt("begin-removal", lambda: begin_removal(self.position, **self.usual(name)))

    @rule(
        name=HANDS,
        count=st.sampled_from([8, 8, 4, 3, 0]),
        state=st.sampled_from(["removed intact", "removed intact", "missing", "removed in parts"]),
        extra=st.sampled_from([0, 0, 0, 1]),
    )
    def take_off(self, name, count, state, extra):
        keys = hands.first_pieces(self.position, count)
        second = make.confirmation(self.cast.hanna, self.at) if state == "removed in parts" else None
        more = {"state": state, "extra": extra, "second": second}
        self.attempt("take-off", lambda: hands.take_pieces(self.position, keys, **more, **self.usual(name)))

    @rule(name=HANDS)
    def leave_off(self, name):
        self.attempt("stop", lambda: stop_removal(self.position, reason="the rest later", **self.usual(name)))

    @rule(name=HANDS, residue=st.sampled_from(["none", "none", "cleaned", "stays"]))
    def finish(self, name, residue):
        given = {"residue": residue, "agent": "dry wipe", "surface_ok": residue != "stays"}
        self.attempt("finish", lambda: finish_removal(self.position, **given, **self.usual(name)))

    @rule(name=HANDS)
    def clean(self, name):
        self.attempt(
            "clean", lambda: clean_roller(self.position, agent="dry wipe", surface_ok=True, **self.usual(name))
        )

    @rule(name=st.sampled_from(["ines", "dara", "hanna", "hanna"]))
    def give_up(self, name):
        reason = "Given up in the middle of it"
        self.attempt("void", lambda: void_application(self.position, reason=reason, **self.usual(name)))

    @rule(giver=HANDS, taker=HANDS, count=st.sampled_from([8, 8, 0, 7]))
    def hand_over(self, giver, taker, count):
        self.attempt("hand-over", lambda: self.pass_on(giver, taker, count))

    def pass_on(self, giver, taker, count):
        hand_over_job(
            self.position,
            giver=make.confirmation(self.who(giver), self.at),
            taker=make.confirmation(self.who(taker), self.at),
            pieces=count,
            lock_number="L-2",
            lock_on=True,
            tried=True,
            at=self.at,
        )

    @rule(
        name=HANDS,
        kind=st.sampled_from(["applied", "removed", "cleaned", "bare"]),
        count=st.sampled_from([8, 8, 7]),
        ago=st.integers(0, 90),
    )
    def report(self, name, kind, count, ago):
        by, reel = self.who(name), self.scene.reel("A05", self.version)
        done = Done(kind, by, version=self.version, reel=reel, pieces=count, lock_number="L-1", rotation="cw")
        sent = Sent(done_at=self.at - timedelta(minutes=ago), reason="written down on paper")
        self.attempt("report", lambda: report_done(self.position, done, by=by, at=self.at, sent=sent))

    @rule(name=HANDS, count=st.sampled_from([8, 8, 7]))
    def confirm_what_was_reported(self, name, count):
        self.attempt("confirm", lambda: confirm_report(self.position, pieces=count, **self.usual(name)))

    @rule(name=HANDS, state=st.sampled_from(["taped", "bare"]))
    def settle(self, name, state):
        given = {"state": state, "pieces": 8, "what": "looked at it"}
        self.attempt("settle", lambda: resolve_conflict(self.position, **given, **self.usual(name)))

    @rule()
    def turn_the_roller(self):
        self.attempt("turn", lambda: turn_body(self.position, by=self.cast.kwame, at=self.at))

    @rule(stays=st.booleans())
    def release(self, stays):
        version, path, hanna = self.scene.versions["SF-17"], self.scene.path, self.cast.hanna
        self.at += timedelta(minutes=1)
        points = {"tension_n_per_m": 50, "speed_m_per_min": 280}
        run = plan_run(path=path, version=version, starts_at=self.at, by=hanna, at=self.at, **points)
        blocked = bool(readiness(path, version, at=self.at).blocks)
        before = TALLY["release"]
        self.attempt("release", lambda: release_run(run, confirmation=make.confirmation(hanna, self.at)))
        went = TALLY["release"] > before
        assert not (went and blocked), "a run was released over a block"
        if not (went and stays):
            end_run(run, by=hanna, at=self.at)

    @rule()
    def go_on(self):
        """What sensible people do next, so that sequences get far."""
        for _ in range(3):
            self.sensible()

    @rule()
    def go_on_further(self):
        for _ in range(9):
            self.sensible()

    def sensible(self):
        job, fact = open_application(self.body), TapeFact.objects.filter(body=self.body).latest("pk")
        state = job.state if job else fact.state
        lock = lock_of(self.position, self.cast.ines.pk)
        if state in ("planned", "locked out", "removing", "partial") and not (lock and lock.holds):
            if lock is None:
                self.begin_to_lock_out("ines", "apply" if state in ("planned", "locked out") else "remove")
            self.lock_out_to_the_end("ines")
        elif state == "locked out":
            prepared = job.facts.filter(kind="prepared").exists()
            self.wind("ines", 8, True) if prepared else self.prepare("ines")
        elif state == "removing":
            self.finish("ines", "none") if not pieces_on(self.body) else self.take_off("ines", 8, "removed intact", 0)
        else:
            self.sensible_of(state, job)

    def sensible_of(self, state, job):
        if state == "applied":
            self.hand_over("ines", "dara", 8) if self.at.minute % 5 == 0 else self.measure("ines", 0.56)
        elif state == "measured" and not is_counted(job):
            self.count("ines", 8)
        elif state in ("measured", "restart"):
            self.lock_off("ines")
            self.check("lena", 8, True)
        elif state == "checked" and self.at.minute % 7:
            going = Run.objects.filter(line=self.position.line, state="released").exists()
            self.restart("ines", 0, "") if going else self.release(True)
        elif state in ("checked", "verified"):
            self.begin_to_lock_out("ines", "remove")
            self.lock_out_to_the_end("ines")
            self.begin_to_remove("ines")
        elif state == "bare":
            self.begin("ines")
        elif state == "partial":
            self.begin_to_remove("ines")
            self.take_off("ines", 8, "removed intact", 0)
        else:
            self.clean("ines")

    # --- what always holds ----------------------------------------------------------------------------------

    @invariant()
    def no_piece_is_lost_or_made(self):
        pieces = list(with_state(Piece.objects.filter(application__body=self.body)))
        for piece in pieces:
            assert piece.now in PieceFact.State.values
            facts = list(piece.facts.order_by("pk").values_list("state", flat=True))
            assert facts[0] == "on roller" or len(facts) == 1, facts
            assert len([state for state in facts if state.startswith("removed")]) <= 1, facts
        on = [piece for piece in pieces if piece.now == "on roller"]
        newest = TapeFact.objects.filter(body=self.body).latest("pk")
        reported = newest.application is not None and newest.application.origin == "report"
        if not reported and newest.kind not in ("applied", "conflict", "resolved", "removed", "cleaned", "bare"):
            assert newest.pieces == len(on), (newest, newest.pieces, len(on))
        if newest.state == "bare":
            assert not on, "bare by the record, with pieces on"

    @invariant()
    def no_state_is_reached_twice(self):
        for job in Application.objects.filter(body=self.body):
            seen = self.visited.setdefault(job.pk, [job.state])
            if job.state != seen[-1]:
                assert job.state not in seen, (seen, job.state)
                assert seen[-1] in AFTER
                seen.append(job.state)
            if job.state == "verified":
                assert job.checker_id is not None and job.checker_id != job.applier_id

    @invariant()
    def the_ledger_balances(self):
        reel = Reel.objects.select_related("lot").first()
        if reel is None:
            return
        cut = sum(ReelMove.objects.filter(reel=reel, kind="cut").values_list("length_m", flat=True))
        assert abs(reel_now(reel).left_m + cut - reel.length_m) < 1e-6
        assert lot_ledger(reel.lot).length.balances

    def look_at_the_chain(self):
        links: dict[str, str] = {}
        for event in Event.objects.order_by("stream", "seq"):
            assert event.previous_hash == links.get(event.stream, ZERO)
            assert event.hash == chained(event.previous_hash, event.body.encode())
            links[event.stream] = event.hash


def _restart_step(fact):
    return RestartStep(fact.details["step"], fact.details["grade"], fact.details["passed"])


@pytest.mark.django_db
@pytest.mark.soak
@pytest.mark.db_both
def test_generated_hands_lose_no_piece_reach_no_state_twice_and_release_no_line_over_a_block(cast, soak_factor):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17", "SF-23"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    make.reel(version.stock, scene["A05"].room, length_m=50_000)
    assert cast.kwame and cast.yuki and cast.lena  # made before the first sequence is taken back
    Plant.scene, Plant.version = scene, version
    TALLY.clear()
    many = settings(
        max_examples=SEQUENCES * soak_factor,
        stateful_step_count=ACTS,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(Roller, settings=many)
    rest = ", ".join(f"{name} {count}" for name, count in sorted(TALLY.items()) if name not in ("done", "refused"))
    print(f"{SEQUENCES * soak_factor} sequences: {TALLY['done']} acts done, {TALLY['refused']} refused; {rest}")
    for name in ("wind", "measure", "count", "check", "take-off", "finish", "hand-over", "void", "report", "release"):
        assert TALLY[name] > 0, f"{name} never came about"
