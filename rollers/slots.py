"""Where applications above may say something on a page of the core, without the core knowing them."""

from collections.abc import Callable, Iterable

from plant.floor.models import Position, Product

SayOfPosition = Callable[[Position, Iterable[Product]], list[str]]
_SAY: list[SayOfPosition] = []


def say_of_positions(say: SayOfPosition) -> SayOfPosition:
    """Register: its sentences stand where a recipe for the position is approved. Written in an app's `says.py`."""
    _SAY.append(say)
    return say


def said_of(position: Position, products: Iterable[Product]) -> list[str]:
    """What is said of a position for these products by everybody above."""
    products = list(products)
    return [sentence for say in _SAY for sentence in say(position, products)]
