"""Changing stored bytes behind the program's back, the way somebody with the database file in hand could."""

from contextlib import contextmanager
from random import Random

from django.db import IntegrityError, connection, transaction

from plant.audit.models import Event
from plant.audit.verification.whole import misfit_of_event

EVENT_COLUMNS = (
    "stream",
    "seq",
    "at",
    "actor_id",
    "action",
    "subject_type",
    "subject_id",
    "sentence",
    "reason",
    "body",
    "previous_hash",
    "hash",
)
SIGNATURE_COLUMNS = (
    "person_id",
    "printed_name",
    "roles_then",
    "meaning",
    "at",
    "local_time",
    "method",
    "subject_type",
    "subject_id",
    "content",
    "digest",
)


@contextmanager
def unguarded():
    """The triggers and foreign keys of SQLite out of the way; only what the chain proves is left."""
    with connection.cursor() as cursor:
        triggers = cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {name}")
        yield cursor
        for _, sql in triggers:
            cursor.execute(sql)


def bytes_of(cursor, table, column, key):
    """A stored value as the bytes it has in text."""
    return cursor.execute(f"SELECT CAST({column} AS BLOB) FROM {table} WHERE id = %s", [key]).fetchone()[0]


def write(cursor, table, column, key, value):
    """Put bytes in place of a value, as text where the column holds text."""
    kind = "INTEGER" if column in ("seq", "actor_id", "person_id", "size") else "TEXT"
    cursor.execute(f"UPDATE {table} SET {column} = CAST(CAST(%s AS BLOB) AS {kind}) WHERE id = %s", [value, key])


def flipped(value, random):
    """The bytes with one of them changed. In a number, a digit becomes another digit."""
    place = random.randrange(len(value))
    if value.isdigit():
        other = random.choice([digit for digit in b"0123456789" if digit != value[place]])
    else:
        other = value[place] ^ random.randrange(1, 256)
    return value[:place] + bytes([other]) + value[place + 1 :]


def flip(cursor, table, columns, key, random):
    """Change one random byte of one random column of a row; returns the column and how to mend it."""
    sizes = {column: len(bytes_of(cursor, table, column, key) or b"") for column in columns}
    column = random.choices(list(sizes), weights=list(sizes.values()))[0]
    if random.random() < 0.5:  # long columns would take nearly every try
        column = random.choice([name for name, size in sizes.items() if size])
    before = bytes_of(cursor, table, column, key)
    after = flipped(before, random)
    write(cursor, table, column, key, after)
    return column, before, after


def mend(cursor, table, column, key, before):
    """The bytes as they were."""
    write(cursor, table, column, key, before)


def unnamed_event_flips(tries, seed):
    """Of so many single changed bytes in random events, those that verification does not name."""
    random, unnamed = Random(seed), []
    keys = list(Event.objects.values_list("pk", "stream", "seq"))
    with unguarded() as cursor:
        for _ in range(tries):
            key, stream, seq = random.choice(keys)
            try:
                with transaction.atomic():
                    column, before, after = flip(cursor, "audit_event", EVENT_COLUMNS, key, random)
            except IntegrityError:  # the number of another event: the table itself refuses
                continue
            # where the event was, and nothing read from the changed row
            misfit = misfit_of_event(Event(pk=key, stream=stream, seq=seq))
            if misfit is None or (misfit.stream, misfit.seq) not in ((stream, seq), (stream, seq + 1), (stream, 0)):
                unnamed.append((key, column, before, after))
            mend(cursor, "audit_event", column, key, before)
        for key, stream, seq in random.sample(keys, 20):
            assert misfit_of_event(Event(pk=key, stream=stream, seq=seq)) is None
    return unnamed
