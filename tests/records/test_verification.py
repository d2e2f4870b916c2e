"""Whatever is changed behind the program's back is found and named."""

import hashlib
import json
import subprocess
import sys
from datetime import timedelta
from io import StringIO
from pathlib import Path
from random import Random

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from plant.audit.canonical import canonical, chained
from plant.audit.models import Attachment, DailyRoot, Event, Signature, StreamHead
from plant.audit.proofs import as_file, proof_of
from plant.audit.services import file_of, keep_photo, make_root, record, sign
from plant.audit.verification import files, signatures
from plant.audit.verification.registry import VERIFIERS
from plant.audit.verification.roots import as_line, from_lines, stored_roots
from plant.audit.verification.whole import verify
from plant.errors import Conflict, Refused
from tests import make
from tests.records.tampering import SIGNATURE_COLUMNS, flip, flipped, mend, unguarded, unnamed_event_flips

pytestmark = pytest.mark.django_db
STANDALONE = Path("plant/audit/standalone/check_proof.py")
DAY = timedelta(days=1)


def say(stream, person, sentence, at=make.AT):
    with transaction.atomic():
        return record(
            stream=stream,
            action="say",
            subject=person,
            sentence=sentence,
            by=person,
            at=at,
            facts={"old": "ä", "new": "1.50"},
            reason="because",
        )


@pytest.fixture
def written(cast, settings, tmp_path):
    """Three days of events in four streams, with a root each, two signatures and a photograph."""
    settings.MEDIA_ROOT = tmp_path
    for number in range(3):
        at = make.AT + number * DAY
        for stream in ("line:A", "line:B", "people"):
            for turn in range(3):
                say(stream, cast.ines if turn % 2 else cast.yuki, f"{stream} {number} {turn} größer", at)
        if number < 2:
            with transaction.atomic():
                sign(make.confirmation(cast.yuki, at), meaning="seen", subject=cast.ines, content={"day": number})
        make_root(at + timedelta(hours=8))
    keep_photo(make.photo(), by=cast.ines, at=make.AT + 3 * DAY, purpose="tail of A05")
    return cast


@pytest.fixture(autouse=True)
def but_for_roles(monkeypatch):
    """The builders of the tests grant roles without an act; that this is named stands in another file."""
    monkeypatch.delitem(VERIFIERS, "roles were granted by an act")


def named(**options):
    return [str(misfit) for misfit in verify(**options).first_of_each()]


@pytest.mark.db_both
def test_what_nobody_touched_fits(written):
    found = verify()
    assert found.misfits == []
    assert (found.events, found.streams, found.roots) == (30, 5, 3)
    assert {"signatures", "attachments"} <= set(found.checks)


@pytest.fixture
def on_sqlite():
    if connection.vendor != "sqlite":
        pytest.skip("the bytes are changed in SQLite; the code that finds it is the same")


@pytest.mark.soak
def test_any_single_changed_byte_of_any_event_is_named(written, on_sqlite, soak_factor):
    """Ten thousand tries in the soak."""
    assert unnamed_event_flips(tries=500 * soak_factor, seed=20260325) == []


@pytest.mark.soak
def test_any_single_changed_byte_of_any_signature_is_named(written, on_sqlite, soak_factor):
    random, told = Random(11), signatures.told_by_chain()
    keys = list(Signature.objects.values_list("pk", flat=True))
    with unguarded() as cursor:
        for _ in range(200 * soak_factor):
            key = random.choice(keys)
            column, before, after = flip(cursor, "audit_signature", SIGNATURE_COLUMNS, key, random)
            found = list(signatures.misfits_among([key], told))
            assert [misfit.where for misfit in found] == [f"signature {key}"], (column, before, after)
            mend(cursor, "audit_signature", column, key, before)
    assert list(signatures.misfits_among(keys, told)) == []


def test_any_single_changed_byte_of_a_photograph_is_named_and_so_is_one_that_is_gone(written):
    kept, random = Attachment.objects.get(), Random(5)
    whole = file_of(kept).read_bytes()
    for _ in range(100):
        file_of(kept).write_bytes(flipped(whole, random))
        assert [misfit.where for misfit in files.attachments()] == [f"attachment {kept.pk}"]
    file_of(kept).write_bytes(whole)
    assert list(files.attachments()) == []
    file_of(kept).unlink()
    assert named() == [f"attachment {kept.pk}: its file is gone"]


def test_an_event_that_was_deleted_is_named_by_its_number(written, on_sqlite):
    with unguarded() as cursor:
        cursor.execute("DELETE FROM audit_event WHERE stream = 'line:A' AND seq = 5")
    assert "line:A 6: event 5 is missing before it" in named()


def test_two_events_that_changed_places_are_named(written, on_sqlite):
    with unguarded() as cursor:
        for old, new in ((4, 999), (5, 4), (999, 5)):
            cursor.execute("UPDATE audit_event SET seq = %s WHERE stream = 'line:B' AND seq = %s", [new, old])
    assert named()[0].startswith("line:B 4: it does not follow")


def test_an_event_that_was_put_in_is_named(written, on_sqlite):
    with unguarded() as cursor:
        cursor.execute("UPDATE audit_event SET seq = seq + 100 WHERE stream = 'line:B' AND seq > 4")
        cursor.execute("UPDATE audit_event SET seq = seq - 99 WHERE stream = 'line:B' AND seq > 100")
        names = [column[0] for column in cursor.execute("SELECT * FROM audit_event LIMIT 1").description][1:]
        shown = ", ".join("5" if name == "seq" else name for name in names)
        cursor.execute(
            f"INSERT INTO audit_event ({', '.join(names)}) SELECT {shown} FROM audit_event "
            "WHERE stream = 'line:B' AND seq = 4"
        )
    assert named()[0].startswith("line:B 5: it does not follow")


def rewrite_from(stream, seq, sentence):
    """A forger with the whole database: changes one event and works out every later link and the head again."""
    with unguarded():
        link = ""
        for event in Event.objects.filter(stream=stream, seq__gte=seq).order_by("seq"):
            if event.seq == seq:
                event.body = canonical(json.loads(event.body) | {"sentence": sentence}).decode()
                event.sentence, link = sentence, event.previous_hash
            event.previous_hash = link
            event.hash = link = chained(link, event.body.encode())
            event.save()
        StreamHead.objects.filter(stream=stream).update(hash=link)


def test_a_chain_that_was_forged_to_its_end_does_not_give_the_roots(written, on_sqlite):
    rewrite_from("people", 5, "nothing happened")
    assert named() == ["people 4: events 4 to 6 are not those of the root of 2026-03-26"]


def cut_tail(stream, upto, *, roots_from=None):
    with unguarded() as cursor:
        Event.objects.filter(stream=stream, seq__gt=upto).delete()
        last = Event.objects.get(stream=stream, seq=upto)
        StreamHead.objects.filter(stream=stream).update(seq=upto, hash=last.hash)
        if roots_from:
            cursor.execute(
                "DELETE FROM audit_roothead WHERE root_id IN (SELECT id FROM audit_dailyroot WHERE date >= %s)",
                [roots_from],
            )
            cursor.execute("DELETE FROM audit_dailyroot WHERE date >= %s", [roots_from])


def test_a_tail_that_was_cut_off_with_its_head_is_found_by_the_roots(written, on_sqlite):
    cut_tail("line:A", 7)
    assert named()[0].startswith("line:A 8: the root of 2026-03-27 covers events up to 9; from about 8 on")


def test_a_tail_that_was_cut_off_with_its_roots_is_found_against_the_file_that_was_kept_elsewhere(
    written, on_sqlite, tmp_path
):
    kept = tmp_path / "roots.jsonl"
    call_command("export_roots", str(kept), stdout=StringIO())
    cut_tail("line:A", 6, roots_from="2026-03-27")
    assert named() == []
    said = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("verify_records", against=str(kept), stdout=said)
    assert ended.value.code == 1
    assert "root of 2026-03-27: it stands in the kept file and not in this database" in said.getvalue()
    assert "line:A 7: the root of 2026-03-27 covers events up to 9" in said.getvalue()


def test_the_file_that_was_kept_is_checked_itself(written):
    kept = [as_line(each) for each in stored_roots()]
    kept[1]["grown"][0][3] = "0" * 64
    misfits = verify(kept=from_lines(json.dumps(line) for line in kept)).misfits
    assert any(str(misfit) == "kept root of 2026-03-26: its leaves do not give it" for misfit in misfits)
    with pytest.raises(Refused, match="Line 2 of the file is no root"):
        from_lines([json.dumps(kept[0]), '{"root": "x"}'])


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE audit_dailyroot SET root = '00' || substr(root, 3) WHERE date = '2026-03-26'",
        "UPDATE audit_dailyroot SET previous_root = '00' || substr(root, 3) WHERE date = '2026-03-26'",
        "UPDATE audit_dailyroot SET made_at = '2026-03-26 17:00:01' WHERE date = '2026-03-26'",
        "UPDATE audit_roothead SET seq = seq + 1 WHERE id = (SELECT max(id) FROM audit_roothead)",
        "DELETE FROM audit_roothead WHERE id = (SELECT max(id) FROM audit_roothead)",
    ],
)
def test_a_changed_root_is_named(written, on_sqlite, change):
    with unguarded() as cursor:
        cursor.execute(change)
    assert [line for line in named() if line.startswith("root of 2026-03-2")]


def test_a_signature_that_was_taken_away_or_put_in_is_named(written, on_sqlite):
    gone, copied = Signature.objects.order_by("pk")
    with unguarded():
        Signature.objects.filter(pk=gone.pk).delete()
        copied.pk = 999
        copied.save()
    assert named() == [
        "signature 999: no chain tells of it: it was put in, or its number was changed",
        f"signature {gone.pk}: Yuki Sandoval gave it and it is gone",
    ]


@pytest.mark.db_both
def test_since_a_day_only_what_came_after_the_root_before_it_is_read(written):
    found = verify(since=make.AT.replace(day=27, hour=0))
    assert found.misfits == []
    assert found.events == 10  # the nine of that day and the photograph
    first_day = verify(since=make.AT - 30 * DAY)
    assert first_day.events == 30


@pytest.mark.db_both
def test_a_day_has_one_root_and_a_pause_is_said_in_the_next(written):
    before = DailyRoot.objects.count()
    again = make_root(make.AT + 2 * DAY + timedelta(hours=9))
    assert DailyRoot.objects.count() == before
    late = make_root(make.AT + 7 * DAY)
    assert late.previous_root == again.root
    assert late.missed_days == 4
    assert json.loads(late.header)["since"] == "2026-03-27T17:00:00.000000Z"
    assert verify().misfits == []


@pytest.mark.db_both
def test_a_stream_that_did_not_grow_stays_under_every_later_root(written):
    quiet = Event.objects.filter(stream="line:B").latest("seq")
    make_root(make.AT + 5 * DAY)
    proof = proof_of(quiet)
    assert proof["date"] == "2026-03-27"
    newest = list(stored_roots())[-1]
    assert {head.stream for head in newest.grown} == {"attachments"}
    assert newest.size == 1 + 5


def run_alone(*arguments):
    """The script of the auditor, without this program's packages."""
    command = [sys.executable, "-I", "-S", str(STANDALONE), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True)


def test_the_script_of_sixty_lines_proves_every_event_and_needs_nothing_but_python(written, tmp_path):
    assert len(STANDALONE.read_text().splitlines()) <= 60
    kept = tmp_path / "roots.jsonl"
    call_command("export_roots", str(kept), stdout=StringIO())
    for event in Event.objects.filter(stream__in=["line:A", "signatures:" + written.yuki.staff_no]):
        file = tmp_path / f"{event.pk}.json"
        file.write_bytes(as_file(proof_of(event)))
        said = run_alone(file, kept)
        assert said.returncode == 0, said.stdout + said.stderr
        assert event.sentence in said.stdout
    assert run_alone(file, proof_of(event)["root"]).returncode == 0
    assert run_alone(file, "0" * 64).returncode == 1


def test_the_script_refuses_a_proof_with_any_part_changed(written, tmp_path):
    whole = proof_of(Event.objects.get(stream="line:A", seq=5))
    other = proof_of(Event.objects.get(stream="line:A", seq=6))
    changes = [
        {"event": whole["event"] | {"body": whole["event"]["body"].replace("line:A 1 1", "line:A 1 2")}},
        {"event": other["event"]},
        {"stream": whole["stream"].replace('"seq":6', '"seq":7')},
        {"in_stream": whole["in_stream"] | {"index": 0}},
        {"in_stream": whole["in_stream"] | {"path": whole["in_stream"]["path"][:-1]}},
        {"in_root": whole["in_root"] | {"path": ["00" * 32, *whole["in_root"]["path"][1:]]}},
        {"date": "2026-03-24"},
        {"root": hashlib.sha256(b"").hexdigest()},
    ]
    file = tmp_path / "proof.json"
    for change in changes:
        file.write_text(json.dumps(whole | change))
        said = run_alone(file)
        assert said.returncode == 1, change
        assert "Traceback" not in said.stderr
    assert run_alone(tmp_path / "nothing.json").returncode == 1
    assert run_alone().returncode == 1


def test_an_event_has_no_proof_before_a_root_covers_it(written):
    fresh = say("line:A", written.ines, "just now")
    with pytest.raises(Conflict, match="The next one is made within a day"):
        proof_of(fresh)


@pytest.mark.db_both
def test_the_command_prints_json_for_programs_and_ends_well_when_all_fits(written):
    said = StringIO()
    call_command("verify_records", json=True, stdout=said)
    told = json.loads(said.getvalue())
    assert told["holds"] and told["misfits"] == [] and told["last_root"] == DailyRoot.objects.latest("date").root
    with pytest.raises(CommandError, match="takes a day"):
        call_command("verify_records", since="yesterday")
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("verify_records", against="/no/such/file")


def test_roots_are_never_written_over_a_file_that_is_there(written, tmp_path):
    there = tmp_path / "roots.jsonl"
    there.write_text("mine")
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_roots", str(there))
    assert there.read_text() == "mine"
