from plant.floor.services.lines import add_line, add_position
from plant.floor.services.paths import Step, draw_path
from plant.floor.services.plants import change_plant, set_up_plant
from plant.floor.services.products import enter_product, revise_product
from plant.floor.services.rooms import add_room, reclassify_room
from plant.floor.services.shifts import plan_shifts, set_crew, set_shift_patterns

__all__ = [
    "Step",
    "add_line",
    "add_position",
    "add_room",
    "change_plant",
    "draw_path",
    "enter_product",
    "plan_shifts",
    "reclassify_room",
    "revise_product",
    "set_crew",
    "set_shift_patterns",
    "set_up_plant",
]
