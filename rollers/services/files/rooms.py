"""Rooms as CSV: a row per class that a room had, oldest first."""

from collections.abc import Iterator

from plant.errors import Refused
from plant.floor.models import Room, RoomKind
from plant.floor.services import add_room
from rollers.services.files.columns import Row, choice, moment, shown_moment, text
from rollers.services.files.taking import Asked, Kind, Taking

COLUMNS = (
    text("code", "short code of the room, for example G1", needed=True),
    text("name", "what people call it", needed=True),
    choice("class", "class from that moment on", tuple(RoomKind.values), needed=True),
    moment("class_from", "when the class began", needed=True),
    text("cleanliness", "for example the ISO 14644-1 class"),
)


def take(rows: list[Row], taking: Taking) -> None:
    rooms: dict[str, list[Row]] = {}
    for row in rows:
        rooms.setdefault(row["code"].lower(), []).append(row)
    for group in rooms.values():
        first, last = group[0], group[-1]
        with taking.row(last):
            for row in group[1:]:
                if row["class_from"] == first["class_from"]:
                    sentence = (
                        f"Room {row['code']} stands in line {first.line} already, with a class from the same time."
                    )
                    raise Refused("row-twice", sentence, field="code")
            room = add_room(
                code=first["code"],
                name=first["name"],
                kind=last["class"],
                valid_from=last["class_from"],
                earlier=[(row["class"], row["class_from"]) for row in group[:-1]],
                cleanliness=last.text("cleanliness"),
                by=taking.by,
                at=taking.at,
            )
            taking.made.append((first.line, f"room {room.code}, {room.name}, class {last['class']}"))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    for room in Room.objects.order_by("code").prefetch_related("classes"):
        for each in room.classes.all():
            yield {
                "code": room.code,
                "name": room.name,
                "class": each.kind,
                "class_from": shown_moment(each.valid_from, asked.zone),
                "cleanliness": room.cleanliness,
            }


KIND = Kind(
    "rooms",
    "Rooms",
    "A row per room; where the class changed, a further row per class, oldest first.",
    COLUMNS,
    take,
    give,
    (
        {"code": "H1", "name": "Slitting hall", "class": "general", "class_from": "2024-01-01", "cleanliness": ""},
        {"code": "H2", "name": "Lid room", "class": "food", "class_from": "2024-06-03 06:00", "cleanliness": "ISO 8"},
    ),
    aliases={"kind": "class", "valid_from": "class_from"},
)
