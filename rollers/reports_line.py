"""What can be printed of a line: the change sheet of a run, the tape of a room, a hold; and blank sheets for a server
that is down.
"""

from datetime import datetime
from typing import Any

from plant.errors import NotFound
from plant.floor.models import Plant, Room, Run
from plant.floor.queries import room_kinds
from plant.reports.registry import Page, number_in, report
from plant.web.svg import line_drawing
from rollers.changeover import ChangeRow, change_sheet
from rollers.models import Hold
from rollers.pictures import board_picture
from rollers.room_tape import RollerTape, tape_now
from rollers.rules_application import LOCKOUT

NOT_RECORDED = "not recorded"
BLANKS = {
    "job": (
        "Job on one roller",
        ["Position", "Roller serial", "Recipe and version", "Tape lot and reel", "Lock number"],
        [sentence for _, sentence in LOCKOUT]
        + [
            "Face clean, dry, 15 to 40 °C, no residue",
            "Lanes marked from the roller centre, both ends",
            "Roller turned by hand in its running direction while tape was paid on",
            "Tail trails; finish over start within 2 mm",
            "Pieces on the roller, counted",
            "Build at the operator end, mm",
            "Build at the drive end, mm",
            "Offcuts, liner and knife back, counted",
            "Own lock off",
        ],
    ),
    "change": (
        "Change of a line",
        ["Line", "From product", "To product", "Planned start"],
        ["Roller: keep, take off, put on or resize"] * 12,
    ),
    "count": (
        "Count of tape",
        ["Room", "Shift", "Bag label"],
        ["Roller, pieces on record, pieces counted"] * 14 + ["Reels counted", "Knives counted"],
    ),
}


def _change_row(row: ChangeRow) -> list[str]:
    found = row.found
    asked = "bare by type" if found.required.by_type else found.required.label or found.required.kind
    return [
        found.position.code,
        found.body.serial if found.body else NOT_RECORDED,
        "" if row.done else row.words if row.action != "keep" else "see what stands in the way",
        found.on.label if found.on.state == "taped" else found.on.state,
        asked,
        f"{row.minutes:.0f}" if row.minutes else "",
        " ".join(block.sentence for block in row.serious),
        "",
    ]


@report("change-sheet")
def change_sheet_report(subject_id: str, at: datetime) -> Page:
    """The change of a line to a planned run, roller by roller, with a place to tick."""
    run = (
        Run.objects.select_related("product_version__product", "path__line", "line")
        .filter(pk=number_in(subject_id))
        .first()
    )
    if run is None:
        raise NotFound("run", subject_id, "Open the run and print from there.")
    plant, sheet = Plant.objects.get(), change_sheet(run, at)
    rows = [_change_row(row) for row in sheet.rows]
    context = {
        "plant_name": plant.name,
        "run": run,
        "sheet": sheet,
        "drawing": line_drawing(board_picture(sheet.found, lambda code: "")),
        "columns": ["Roller", "Serial", "Do", "On now", "For this run", ("Min", "num"), "In the way", "Done, initials"],
        "rows": rows,
        "time_zone": plant.time_zone,
    }
    record = {"run": run.pk, "rows": rows, "minutes": f"{sheet.minutes:.0f}", "as_of": at}
    title = f"Change to {run.product_version.product.code} on line {run.line.code}"
    return Page(title, "rollers/reports/change.html", context, record, at)


def _tape_row(row: RollerTape) -> list[str]:
    application = row.application
    return [
        row.position.code,
        row.position.line.code,
        row.serial or NOT_RECORDED,
        row.on.label if row.on.state == "taped" else row.on.state,
        str(row.on.pieces),
        application.applier.name if application and application.applier else NOT_RECORDED,
        application.checker.name if application and application.checker else NOT_RECORDED,
        f"{row.fact.at:%Y-%m-%d %H:%M} UTC" if row.fact else NOT_RECORDED,
    ]


@report("room-tape")
def room_tape_report(subject_id: str, at: datetime) -> Page:
    """What is on every roller of a room now."""
    room = Room.objects.filter(code__iexact=subject_id).first()
    if room is None:
        raise NotFound("room", subject_id, "Open the room and print from there.")
    plant, kind = Plant.objects.get(), room_kinds(at).get(room.pk, NOT_RECORDED)
    rows = [_tape_row(row) for row in tape_now(room)]
    context = {
        "plant_name": plant.name,
        "room": room,
        "kind": kind,
        "columns": ["Roller", "Line", "Serial", "On it", ("Pieces", "num"), "Put on by", "Checked by", "Last record"],
        "rows": rows,
        "pieces": sum(int(row[4]) for row in rows),
        "time_zone": plant.time_zone,
    }
    record = {"room": room.code, "class": kind, "rows": rows, "as_of": at}
    return Page(f"Tape in room {room.code}", "rollers/reports/room_tape.html", context, record, at)


@report("hold")
def hold_report(subject_id: str, at: datetime) -> Page:
    """A hold with its rolls, their decisions and signatures."""
    hold = Hold.objects.select_related("line", "signature").filter(pk=number_in(subject_id)).first()
    if hold is None:
        raise NotFound("hold", subject_id, "Open the hold and print from there.")
    plant = Plant.objects.get()
    rolls = list(hold.rolls.select_related("signature"))
    rows = [
        [
            one.label + (" (part)" if one.part else ""),
            f"{one.length_m:.0f}",
            one.get_decision_display(),
            one.reason or NOT_RECORDED,
            f"{one.signature.printed_name}, {one.signature.local_time}" if one.signature else "not signed yet",
        ]
        for one in rolls
    ]
    context: dict[str, Any] = {
        "plant_name": plant.name,
        "hold": hold,
        "columns": ["Roll", ("Length, m", "num"), "Decision", "How it is known", "Signed"],
        "rows": rows,
        "status": "" if hold.closed_at else "OPEN",
        "time_zone": plant.time_zone,
    }
    record = {
        "hold": hold.sentence,
        "since": hold.since,
        "until": hold.until,
        "metres": f"{hold.metres:.1f}",
        "rolls": rows,
        "closed": hold.signature.digest if hold.signature else None,
        "as_of": at,
    }
    return Page(f"Hold on line {hold.line.code}", "rollers/reports/hold.html", context, record, at)


@report("blank")
def blank_report(subject_id: str, at: datetime) -> Page:
    """A blank sheet to write on while the server is down; it is entered late afterwards, with the reason."""
    if subject_id not in BLANKS:
        raise NotFound("blank sheet", subject_id, f"There are: {', '.join(BLANKS)}.")
    title, heads, lines = BLANKS[subject_id]
    plant = Plant.objects.get()
    context = {"plant_name": plant.name, "heads": heads, "lines": lines, "time_zone": plant.time_zone}
    return Page(f"Blank sheet: {title}", "rollers/reports/blank.html", context, {"blank": subject_id}, at)
