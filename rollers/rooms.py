"""The class of rooms, as the rules of tape ask for it."""

from datetime import datetime

from plant.floor.queries import room_kinds as known_kinds


def room_kinds(rooms: set[int], at: datetime) -> dict[int, str]:
    """The class of rooms at a moment, by room id. A room without a class counts as the strictest."""
    known = known_kinds(at)
    return {room: known.get(room, "medical") for room in rooms}
