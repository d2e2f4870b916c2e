"""Rollers as CSV: in one row the place on the line, the roller that sits there, and how the web passes it."""

from collections import defaultdict
from collections.abc import Iterator

from plant.errors import Refused
from plant.floor.access import line_by_code, position_by_code, room_by_code
from plant.floor.models import Line, PathStep, Position, WebPath
from plant.floor.services import Step, add_position, draw_path
from plant.web.quantities import typed_of
from rollers.models import Body, Mounting
from rollers.services.bodies import SPARE_PLACES, enter_body
from rollers.services.files.columns import Row, choice, quantity, text, whole, word, written, yes_no
from rollers.services.files.examples import ROLLER
from rollers.services.files.taking import Asked, Kind, NotAllowed, Taking
from rollers.services.mountings import mount

SURFACE_TEMP = quantity("surface_temp_c", "temperature of the roller surface in operation")
DIAMETER = quantity("diameter_mm", "diameter now")
DRAWING = quantity("drawing_diameter_mm", "diameter of the drawing")
FACE = quantity("face_mm", "face length")
ROUGHNESS = quantity("roughness_um", "roughness Rq of the bare face")
RUNOUT = quantity("runout_mm", "runout")
WRAP = quantity("wrap_deg", "wrap angle of the web")
SPAN = quantity("entry_span_mm", "free web before this roller")
BODY_FIGURES = (DIAMETER, DRAWING, FACE, ROUGHNESS, RUNOUT)
PLACE_COLUMNS = ("order", "room", "zone", "kind", "kept_bare", "surface_temp", "note")
BODY_COLUMNS = ("serial", "diameter", "drawing_diameter", "face", "roughness", "runout", "material")
COLUMNS = (
    text("line", "code of the line; empty for a spare roller"),
    text("position", "code of the place, for example A05; empty for a spare roller"),
    whole("order", "number of the place along the line, from 1"),
    text("room", "code of the room"),
    whole("zone", "number of the tension zone"),
    choice("kind", "kind of roller, empty: idler", tuple(Position.Kind.values)),
    yes_no("kept_bare", "never taped although its kind would allow it"),
    SURFACE_TEMP,
    text("note", "note on the place"),
    text("serial", "serial number of the roller; empty for an empty place"),
    DIAMETER,
    yes_no("diameter_measured", "the diameter was measured, not read from the drawing"),
    DRAWING,
    FACE,
    ROUGHNESS,
    RUNOUT,
    text("material", "material of the face"),
    text("drive_end_mark", "how the drive end is marked on the roller"),
    choice("orientation", "normal: the mark is at the drive end; flipped: turned end for end", ("normal", "flipped")),
    choice("whereabouts", "of a spare roller", tuple(place.value for place in SPARE_PLACES)),
    text("path", "name of the web path; a place on two paths has a second row"),
    whole("path_order", "number of the roller along this path, from 1"),
    WRAP,
    choice("rotation", "seen from the operator end", tuple(PathStep.Rotation.values)),
    choice("web_side", "web side that touches the roller", tuple(PathStep.Side.values)),
    SPAN,
)

Steps = dict[tuple[int, str], list[tuple[Row, Step]]]


def take(rows: list[Row], taking: Taking) -> None:
    steps: Steps = defaultdict(list)
    lines: dict[int, Line] = {}
    for row in rows:
        with taking.row(row):
            said = []
            position = _position(row, taking)
            if position is not None:
                lines[position.line_id] = position.line
                said.append(f"{position.code} on line {position.line.code}, {position.get_kind_display()}")
            if row["serial"]:
                said.append(_body(row, position, taking))
            elif not row.is_empty(*BODY_COLUMNS):
                raise Refused("no-serial", "The row tells of a roller but has no serial number.", field="serial")
            if row["path"]:
                said.append(_step(row, position, steps))
            elif not row.is_empty("path_order", "wrap", "rotation", "web_side", "entry_span"):
                raise Refused("no-path", "The row tells how the web passes but names no path.", field="path")
            if not said:
                raise Refused("empty-row", "The row has neither a position nor a serial number.", field="position")
            taking.made.append((row.line, "; ".join(said)))
    _draw(steps, lines, taking)


def _position(row: Row, taking: Taking) -> Position | None:
    """The place of the row: made by its first row, found again by a further row for another path."""
    code = row["position"]
    if not code:
        if not row.is_empty("line", "path", *PLACE_COLUMNS):
            sentence = "The row tells of a place but has no position code."
            raise Refused("no-position", sentence, field="position")
        return None
    if not row["line"]:
        raise Refused("no-line", f"On which line is {code}? Write its code.", field="line")
    line = taking.fetched(line_by_code, row["line"])
    if row["path"] and row.is_empty(*PLACE_COLUMNS, *BODY_COLUMNS):
        there = position_by_code(code)
        if there.line_id != line.pk:
            raise Refused("other-line", f"{there.code} stands on line {there.line.code}.", field="line")
        return there
    taking.once(row, "position", code, "Position")
    if row["order"] is None:
        sentence = f"Which number along line {line.code} is {code}? Count from 1."
        raise Refused("empty", sentence, field="order")
    if not row["room"]:
        raise Refused("empty", f"In which room is {code}? Write its code.", field="room")
    return add_position(
        line=line,
        room=taking.fetched(room_by_code, row["room"]),
        code=code,
        order=row["order"],
        kind=row["kind"] or Position.Kind.IDLER,
        zone=row["zone"],
        kept_bare=bool(row["kept_bare"]),
        surface_temp_c=row["surface_temp"],
        note=row.text("note"),
        by=taking.by,
        at=taking.at,
    )


def _body(row: Row, position: Position | None, taking: Taking) -> str:
    taking.once(row, "serial", row["serial"], "Roller")
    if position is not None and row["whereabouts"]:
        raise Refused("whereabouts", "A roller at a position is mounted; leave this empty.", field="whereabouts")
    body = enter_body(
        serial=row["serial"],
        diameter_mm=row["diameter"],
        diameter_measured=bool(row["diameter_measured"]),
        drawing_diameter_mm=row["drawing_diameter"],
        face_mm=row["face"],
        roughness_um=row["roughness"],
        runout_mm=row["runout"],
        material=row.text("material"),
        drive_end_mark=row.text("drive_end_mark"),
        whereabouts=row["whereabouts"] or Body.Whereabouts.SPARE,
        by=taking.by,
        at=taking.at,
    )
    if position is None:
        return f"roller {body.serial}, {body.get_whereabouts_display()}"
    mount(body, position, orientation=row["orientation"] or Mounting.Orientation.NORMAL, by=taking.by, at=taking.at)
    return f"roller {body.serial} mounted"


def _step(row: Row, position: Position | None, steps: Steps) -> str:
    if position is None:
        raise Refused("no-position", "A path passes positions; a spare roller has none.", field="path")
    for name in ("path_order", "wrap", "rotation", "web_side", "entry_span"):
        if row[name] is None:
            sentence = f"The path {row['path']} needs the {name.replace('_', ' ')} at {position.code}."
            raise Refused("empty", sentence, field=name)
    group = steps[(position.line_id, row["path"].lower())]
    for other, _ in group:
        if other["path_order"] == row["path_order"]:
            sentence = f"Number {row['path_order']} of path {row['path']} stands in line {other.line} already."
            raise Refused("row-twice", sentence, field="path_order")
    group.append((row, Step(position, row["wrap"], row["rotation"], row["web_side"], row["entry_span"])))
    return f"number {row['path_order']} on path {row['path']}"


def _draw(steps: Steps, lines: dict[int, Line], taking: Taking) -> None:
    """The paths, when their rows were all good: half a path would only bring further complaints."""
    bad = {problem.line for problem in taking.bad}
    for (line_id, _), group in steps.items():
        if bad & {row.line for row, _ in group}:
            continue
        ordered = sorted(group, key=lambda pair: pair[0]["path_order"])
        first = group[0][0]
        try:
            with taking.row(first):
                line = lines[line_id]
                there = line.paths.filter(name__iexact=first["path"], in_use=True).first()
                if there is not None and not taking.append:
                    sentence = f"Line {line.code} has a path {first['path']} already. Draw it anew on the line's page."
                    raise Refused("path-there", sentence, field="path")
                draw_path(
                    line,
                    name=first["path"],
                    steps=[*_steps_of(there), *(step for _, step in ordered)],
                    by=taking.by,
                    at=taking.at,
                )
        except NotAllowed:
            return


def _steps_of(path: WebPath | None) -> list[Step]:
    """The steps that a path has already, as they were typed."""
    if path is None:
        return []
    return [
        Step(
            step.position,
            typed_of(step, "wrap_deg"),
            step.rotation,
            step.web_side,
            typed_of(step, "entry_span_mm"),
        )
        for step in path.steps.select_related("position").order_by("order")
    ]


def give(asked: Asked) -> Iterator[dict[str, str]]:
    positions = Position.objects.select_related("line", "room", "zone").order_by("line__code", "order")
    line = asked.filters.get("line")
    if line:
        positions = positions.filter(line=line_by_code(line))
    mounted = {m.position_id: m for m in Mounting.objects.filter(removed_at=None).select_related("body")}
    steps: dict[int, list[PathStep]] = defaultdict(list)
    in_use = PathStep.objects.filter(path__in_use=True).select_related("path").order_by("path__name", "order")
    for step in in_use:
        steps[step.position_id].append(step)
    for position in positions:
        first, *others = [_step_cells(step) for step in steps[position.pk]] or [{}]
        mounting = mounted.get(position.pk)
        place = {"line": position.line.code, "position": position.code}
        yield place | _place_cells(position) | (_body_cells(mounting.body, mounting) if mounting else {}) | first
        for cells in others:
            yield place | cells
    if not line:
        for body in Body.objects.exclude(pk__in=[m.body_id for m in mounted.values()]).order_by("serial"):
            yield _body_cells(body, None) | {"whereabouts": body.whereabouts}


def _place_cells(position: Position) -> dict[str, str]:
    return {
        "order": str(position.order),
        "room": position.room.code,
        "zone": str(position.zone.number) if position.zone else "",
        "kind": position.kind,
        "kept_bare": word(position.kept_bare),
        **written(SURFACE_TEMP, position),
        "note": position.note,
    }


def _body_cells(body: Body, mounting: Mounting | None) -> dict[str, str]:
    cells = {
        "serial": body.serial,
        "diameter_measured": word(body.diameter_measured),
        "material": body.material,
        "drive_end_mark": body.drive_end_mark,
        "orientation": mounting.orientation if mounting else "",
    }
    for column in BODY_FIGURES:
        cells |= written(column, body)
    return cells


def _step_cells(step: PathStep) -> dict[str, str]:
    return {
        "path": step.path.name,
        "path_order": str(step.order),
        **written(WRAP, step),
        "rotation": step.rotation,
        "web_side": step.web_side,
        **written(SPAN, step),
    }


KIND = Kind(
    "rollers",
    "Rollers",
    "A row per roller: its place on the line, the roller that sits there, and how the web passes it. A row without "
    "line and position is a spare roller; a further row with position and path only puts the place on a second path.",
    COLUMNS,
    take,
    give,
    (
        ROLLER | {"position": "S01", "order": "1", "serial": "R-1001", "path_order": "1"},
        ROLLER
        | {"position": "S02", "order": "2", "serial": "R-1002", "path_order": "2", "rotation": "ccw", "web_side": "B"},
        {
            "serial": "R-1099",
            "face": "1600",
            "face_unit": "mm",
            "roughness": "25",
            "roughness_unit": "um",
            "whereabouts": "spare",
        },
    ),
    filters=("line",),
    aliases={"code": "position", "body": "serial", "steps": "path", "name": "path"},
)
