"""How long a recall takes at years of records: the functions behind its page, and the page as HTML for print.

A script, not a test, for an empty migrated database (PLANT_DATABASE_URL or PLANT_DATA_DIR):

    python -m tests.load.recall [years] [lines] [--keep]

Fills it with lines of two taped rollers, a taping a week and roller, a lot every eight weeks, three runs a day with ten
rolls each; then recalls the lot that touched most, and goes back from a roll. Everything is taken back at the end
unless `--keep` is given. `--only` measures what is there.
"""

import os
import sys
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from time import perf_counter
from typing import Any

import django
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
django.setup()

from plant.floor.models import Line, Run, WebPath  # noqa: E402
from plant.people.models import Person  # noqa: E402
from plant.reports.engine import html_of  # noqa: E402
from plant.reports.registry import builder_of  # noqa: E402
from rollers.models import Application, Lot, Piece, PieceFact, Reel, ReelMove, Roll  # noqa: E402
from rollers.queries_recall import recall_of  # noqa: E402
from rollers.queries_recalled import recalled_on  # noqa: E402
from rollers.queries_trace import made_between, tape_of_roll  # noqa: E402
from tests import make  # noqa: E402

END = make.AT
WEEKS_OF_A_LOT, RUNS_A_DAY, ROLLS, PIECES = 8, 3, 10, 4
Row = dict[str, Any]


def many(model: Any, rows: Iterable[Row]) -> list[Any]:
    return model.objects.bulk_create([model(**row) for row in rows], batch_size=2000)


def lots_of(stock: Any, by: Person, begin: datetime, weeks: int) -> list[tuple[Lot, Reel]]:
    """A lot every eight weeks, with one long reel."""
    found = []
    for number in range(0, weeks, WEEKS_OF_A_LOT):
        at = begin + timedelta(weeks=number)
        lot = Lot.objects.create(stock=stock, code=f"L{number:04d}", received_at=at, received_by=by, status="released")
        reel = Reel.objects.create(lot=lot, label=f"R-{number:04d}", length_m=5000)
        moved = {"length_m": 5000, "at": at, "recorded_at": at, "by": by}
        ReelMove.objects.create(reel=reel, kind="received", **moved)
        found.append((lot, reel))
    return found


def tapings(line: Line, lots: list[tuple[Lot, Reel]], by: Person, begin: datetime, weeks: int) -> None:
    """A taping a week on each of the line's rollers, of the lot of that time; the last ones are still on."""
    moment = {"recorded_at": begin, "by": by}
    for position in line.positions.all():
        body = position.mountings.get(removed_at=None).body
        made = many(
            Application,
            (
                {
                    "body": body,
                    "position": position,
                    "state": "removed" if week < weeks - 1 else "applied",
                    "planned_by": by,
                    "planned_at": begin + timedelta(weeks=week),
                    "applier": by,
                    "applied_at": begin + timedelta(weeks=week),
                    "ended_at": begin + timedelta(weeks=week + 1) if week < weeks - 1 else None,
                }
                for week in range(weeks)
            ),
        )
        reels = [lots[week // WEEKS_OF_A_LOT][1] for week in range(weeks)]
        many(
            ReelMove,
            (
                {"reel": reel, "kind": "cut", "length_m": 2, "application": one, "at": one.applied_at, **moment}
                for one, reel in zip(made, reels, strict=True)
            ),
        )
        pieces = many(
            Piece,
            (
                {"application": one, "number": n, "end": "drive", "lane": n, "length_mm": 500, "reel": reel}
                for one, reel in zip(made, reels, strict=True)
                for n in range(1, PIECES + 1)
            ),
        )
        many(PieceFact, ({"piece": p, "state": "on roller", "at": p.application.applied_at, **moment} for p in pieces))
        gone = [p for p in pieces if p.application.ended_at]
        many(PieceFact, ({"piece": p, "state": "removed intact", "at": p.application.ended_at, **moment} for p in gone))


def runs(line: Line, path: WebPath, version: Any, by: Person, begin: datetime, days: int) -> None:
    """Three runs a day without a pause, ten rolls each."""
    length = timedelta(days=1) / RUNS_A_DAY
    starts = [begin + number * length for number in range(days * RUNS_A_DAY)]
    common = {"line": line, "path": path, "product_version": version, "tension_n_per_m": 110, "planned_by": by}
    made = many(
        Run,
        (
            common
            | {
                "state": "ended",
                "speed_m_per_min": 100,
                "planned_at": at,
                "starts_at": at,
                "released_at": at,
                "ended_at": at + length,
            }
            for at in starts
        ),
    )
    each = length / ROLLS
    many(
        Roll,
        (
            {
                "run": run,
                "number": f"{line.code}-{run.pk}-{n}",
                "began_at": run.released_at + n * each,
                "ended_at": run.released_at + (n + 1) * each,
                "length_m": 4800,
            }
            for run in made
            for n in range(ROLLS)
        ),
    )


def fill(years: float, lines: int) -> None:
    weeks = round(years * 52)
    begin = END - timedelta(weeks=weeks)
    make.plant()
    by, room, stock = make.person("Builder", "qa"), make.room("M1", "medical"), make.stock("T5")
    lots = lots_of(stock, by, begin, weeks)
    for number in range(lines):
        line = make.line(f"L{number}")
        path = make.web_path(line)
        for place in (1, 2):
            make.position(f"L{number}-{place}", path=path, room=room)
        version = make.product(
            f"P{number}", line, width=640, thickness=62, modulus=1030, tension=110, speed=100, friction=0.3
        )
        tapings(line, lots, by, begin, weeks)
        runs(line, path, version, by, begin, weeks * 7)


def timed(what: str, act: Callable[[], Any]) -> Any:
    with CaptureQueriesContext(connection) as asked:
        begun = perf_counter()
        answer = act()
        spent = perf_counter() - begun
    print(f"{what:<58}{spent:8.3f} s {len(asked):5d} queries")
    return answer


def measure() -> None:
    rows = {model: model.objects.count() for model in (Application, Piece, Run, Roll)}
    print(", ".join(f"{count:,} {model._meta.verbose_name_plural}" for model, count in rows.items()), connection.vendor)
    lots = list(Lot.objects.order_by("received_at"))
    oldest, newest = lots[len(lots) // 2], lots[-1]
    for word, lot in (("a lot of half the time ago", oldest), ("the lot that is on now", newest)):
        found = timed(f"recall of {word}", lambda lot=lot: recall_of(lot, END))
        print(
            "    ", ", ".join(f"{count} {key}" for key, count in found.counts.items()), f"{found.metres / 1000:,.0f} km"
        )
    timed("the same as a page for print", lambda: html_of(builder_of("recall")(str(newest.pk), END), "a4"))
    newest.status = "recalled"
    newest.save()
    line = Line.objects.first()
    if line is None:
        raise SystemExit("There is no line: fill the database first.")
    timed("recalled tape on the rollers of a line", lambda: recalled_on(line.positions.all(), END))
    middle = END - timedelta(days=400)
    timed("what a line made in a week", lambda: made_between(line, middle, middle + timedelta(days=7), END))
    roll = Roll.objects.select_related("run__path").get(pk=Roll.objects.count() // 2 + Roll.objects.earliest("pk").pk)
    timed("back from a roll to its lots", lambda: tape_of_roll(roll))


def main(arguments: list[str]) -> None:
    flags = {word for word in arguments if word.startswith("--")}
    figures = [word for word in arguments if not word.startswith("--")]
    years, lines = float(figures[0]) if figures else 5.0, int(figures[1]) if len(figures) > 1 else 10
    if "--only" in flags:
        measure()
        return
    with transaction.atomic():
        begun = perf_counter()
        fill(years, lines)
        print(f"filled in {perf_counter() - begun:.0f} s")
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        measure()
        transaction.set_rollback("--keep" not in flags)


if __name__ == "__main__":
    main(sys.argv[1:])
