"""The only doors to rows of the floor. Whoever is signed in may look; services ask for the role to change."""

from plant.errors import NotFound
from plant.floor.models import Line, Position, Product, Room, Shift, WebPath


def room_by_code(code: str) -> Room:
    """One room."""
    room = Room.objects.filter(code__iexact=code.strip()).first()
    if room is None:
        raise NotFound("room", code, "Check the code on the list of rooms.")
    return room


def line_by_code(code: str) -> Line:
    """One line."""
    line = Line.objects.filter(code__iexact=code.strip()).first()
    if line is None:
        raise NotFound("line", code, "Check the code on the list of lines.")
    return line


def position_by_code(code: str) -> Position:
    """One position, with its line and room."""
    position = Position.objects.select_related("line", "room", "zone").filter(code__iexact=code.strip()).first()
    if position is None:
        raise NotFound("roller position", code)
    return position


def product_by_code(code: str) -> Product:
    """One product."""
    product = Product.objects.filter(code__iexact=code.strip()).first()
    if product is None:
        raise NotFound("product", code, "Check the code on the list of products, or ask the process engineer.")
    return product


def path_of(line: Line, name: str) -> WebPath:
    """The threading of this name that is in use on the line."""
    path = line.paths.filter(name__iexact=name.strip(), in_use=True).order_by("-version").first()
    if path is None:
        raise NotFound(f"path on line {line.code} called", name, "Look at the line's page for its paths.")
    return path


def path_by_pk(pk: int) -> WebPath:
    """One path, by its number."""
    path = WebPath.objects.select_related("line").filter(pk=pk).first()
    if path is None:
        raise NotFound("web path", str(pk), "Look at the line's page for its paths.")
    return path


def shift_by_pk(pk: int) -> Shift:
    """One shift."""
    shift = Shift.objects.filter(pk=pk).first()
    if shift is None:
        raise NotFound("shift", str(pk), "Look at the shift plan.")
    return shift
