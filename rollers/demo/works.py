"""The invented plant: rooms, lines, positions, web paths, tape stocks and products."""

from dataclasses import dataclass

from plant.floor.models import Line, PathStep, Position, Product, Room, WebPath
from plant.floor.services import Step, add_line, add_position, add_room, draw_path, enter_product, set_up_plant
from plant.floor.services.lines import Zone
from plant.people.models import Person
from rollers.demo.staff import GO_LIVE
from rollers.demo.week import TIME_ZONE, Week
from rollers.models import TapeStock
from rollers.services.stocks import enter_stock

ROOMS = (
    ("G1", "Winding hall", "general", ""),
    ("F1", "Coating hall", "food", ""),
    ("M1", "Pouch room", "medical", "ISO 14644-1 class 8"),
    ("G2", "PTFE bay", "general", ""),
)
LINES = (
    ("A", "Stretch film winding", "G1", 320),
    ("B", "Coating and laminating", "F1", 300),
    ("C", "Pouch laminating", "M1", 140),
    ("D", "PTFE tape", "G2", 60),
)
# Diameter mm / wrap degrees / entry span m, then what it is where it is no plain idler.
POSITIONS = {
    "A": "250/180/0.8 chill, 120/60/0.9, 120/90/1.1, 150/45/0.7 load-cell, 120/120/1.4, 120/35/0.6, 200/180/0.5 nip, "
    "120/80/0.9, 300/160/0.4 winder-drum",
    "B": "160/90/1.0, 160/40/1.8, 200/180/0.9 steering, 160/85/1.5, 160/70/0.8 load-cell, 250/150/0.7 coating, "
    "160/20/2.4 oven, 160/20/2.4 oven, 200/95/1.6, 300/180/0.6 chill, 200/120/0.9 nip, 160/60/1.1, 160/100/1.3, "
    "300/170/0.4 winder-drum",
    "C": "100/90/0.6, 100/45/0.9, 150/180/0.5 steering, 100/80/0.7, 150/170/0.4 laminating, 150/110/0.9, 100/70/0.5, "
    "100/60/0.5 load-cell, 100/100/0.8, 200/160/0.3 winder-drum",
    "D": "80/90/0.4, 80/60/0.5, 120/180/0.3 nip, 80/120/0.6, 80/45/0.5, 100/90/0.3 load-cell, 150/160/0.2 winder-drum",
}
FACES_MM = {"A": 1800, "B": 1750, "C": 800, "D": 400}
ROUGHNESS_UM = {"A": 40, "B": 25, "C": 25, "D": 12}
SURFACE_C = {"chill": 18, "oven": 110, "idler": 24}
# The web turns over from roller to roller, so rotation and touching side alternate.
WAYS = ((PathStep.Rotation.CLOCKWISE, "A"), (PathStep.Rotation.COUNTERCLOCKWISE, "B"))
ALL_ROOMS = ["general", "food", "medical"]

STOCKS = (
    ("T1", "Crepe paper tape", "paper crepe", "rubber", (0.14, 48, 25, 80), ["general"], "tan", 7),
    ("T2", "Vinyl tape", "vinyl", "rubber", (0.15, 50, 6, None), ["general"], "yellow", 14),
    ("T3", "Smooth blue polyester tape", "polyester", "silicone", (0.055, 50, 4, None), ALL_ROOMS, "blue", 30),
    ("T4", "Glass cloth tape", "glass cloth", "silicone", (0.18, 50, 30, 200), ["general"], "white", 60),
    ("T5", "Textured blue polyester tape", "polyester", "silicone", (0.09, 50, 20, 150), ALL_ROOMS, "blue", 30),
)


@dataclass(frozen=True)
class DemoProduct:
    """Width mm, thickness µm, modulus MPa, tension N/m, speed m/min, friction on the roller."""

    code: str
    name: str
    family: str
    line: str
    figures: tuple[float, float, float, float, float, float]
    contact_side: str = ""


PRODUCTS = (
    DemoProduct("SF-17", "Stretch film 17 µm", "stretch film", "A", (1500, 17, 120, 50, 280, 0.35)),
    DemoProduct("SF-23", "Stretch film 23 µm", "stretch film", "A", (1500, 23, 130, 65, 260, 0.35)),
    DemoProduct("SF-30", "Farm wrap 30 µm", "stretch film", "A", (1000, 30, 150, 80, 220, 0.35)),
    DemoProduct("BO-20", "BOPP 20 µm, coated", "BOPP", "B", (1600, 20, 2000, 120, 250, 0.30), "A"),
    DemoProduct("BO-35", "BOPP 35 µm, matt", "BOPP", "B", (1600, 35, 1900, 180, 220, 0.30), "A"),
    DemoProduct("CP-70", "Coated paper 70 µm", "paper", "B", (1500, 70, 6000, 230, 200, 0.40), "A"),
    DemoProduct("CP-110", "Label paper 110 µm", "paper", "B", (1300, 110, 5500, 300, 180, 0.40)),
    DemoProduct("ML-62", "Pouch laminate 62 µm", "laminate", "C", (640, 62, 1030, 110, 100, 0.30), "A"),
    DemoProduct("MN-160", "Nonwoven lid 160 µm", "nonwoven", "C", (640, 160, 800, 180, 100, 0.35), "A"),
    DemoProduct("MP-75", "Medical paper 75 µm", "paper", "C", (600, 75, 4000, 150, 100, 0.40), "A"),
    DemoProduct("PT-100", "Unsintered PTFE 100 µm", "PTFE", "D", (300, 100, 40, 20, 30, 0.20)),
    DemoProduct("PT-50", "Skived PTFE 50 µm", "PTFE", "D", (300, 50, 500, 25, 40, 0.20)),
)


@dataclass
class Works:
    """What stands, by code."""

    rooms: dict[str, Room]
    lines: dict[str, Line]
    positions: dict[str, Position]
    paths: dict[str, WebPath]
    products: dict[str, Product]
    stocks: dict[str, TapeStock]


def roller_figures(line: str) -> list[tuple[str, float, float, float, str]]:
    """Code, diameter mm, wrap degrees, entry span mm and kind of every position of a line, in web order."""
    rows: list[tuple[str, float, float, float, str]] = []
    for number, text in enumerate(POSITIONS[line].split(", "), start=1):
        figures, _, kind = text.partition(" ")
        diameter, wrap, span = (float(figure) for figure in figures.split("/"))
        rows.append((f"{line}{number:02d}", diameter, wrap, round(span * 1000), kind or "idler"))
    return rows


def build_works(people: dict[str, Person], week: Week) -> Works:
    """Enter everything that stands in the halls."""
    keeper, engineer = people["noor"], people["dara"]
    at = week.at(GO_LIVE, "09:00")
    set_up_plant(code="TH", name="Tarn Hollow Works", time_zone=TIME_ZONE, by=keeper, at=at)
    works = Works({}, {}, {}, {}, {}, {})
    for code, name, kind, clean in ROOMS:
        works.rooms[code] = add_room(
            code=code, name=name, kind=kind, valid_from=at, by=keeper, at=at, cleanliness=clean
        )
    for code, name, room, speed in LINES:
        works.lines[code] = add_line(
            code=code, name=name, max_speed_m_per_min=speed, zones=(Zone(1), Zone(2)), by=engineer, at=at
        )
        _place_rollers(works, code, works.rooms[room], engineer, week)
    return works


def _place_rollers(works: Works, code: str, room: Room, by: Person, week: Week) -> None:
    line, steps, at = works.lines[code], list[Step](), week.at(GO_LIVE, "10:00")
    rows = roller_figures(code)
    for order, (name, _, wrap, span, kind) in enumerate(rows, start=1):
        works.positions[name] = add_position(
            line=line,
            room=room,
            code=name,
            order=order,
            kind=kind,
            zone=1 if order <= len(rows) // 2 else 2,
            surface_temp_c=SURFACE_C.get(kind),
            by=by,
            at=at,
        )
        rotation, side = WAYS[order % 2]
        steps.append(Step(works.positions[name], wrap, rotation, side, span))
    works.paths[code] = draw_path(line, name="main", steps=steps, by=by, at=at)
    if code == "B":
        _draw_bypass(works, line, steps, by, week)


def _draw_bypass(works: Works, line: Line, steps: list[Step], by: Person, week: Week) -> None:
    """A second threading, past the two oven rollers. No product sheet is signed for it yet."""
    kept = [
        Step(step.position, step.wrap_deg, step.rotation, step.web_side, 3200) if step.position.code == "B09" else step
        for step in steps
        if step.position.code not in ("B07", "B08")
    ]
    works.paths["B past the oven"] = draw_path(
        line, name="past the oven", steps=kept, by=by, at=week.at(GO_LIVE, "10:30"), reason="Oven off, uncoated runs"
    )


def enter_goods(works: Works, people: dict[str, Person], week: Week) -> None:
    """Tape stocks, entered by QA because of the clean rooms, and products."""
    at = week.at(GO_LIVE, "13:00")
    for code, name, backing, adhesive, (thick, width, rough, hot), rooms, colour, life in STOCKS:
        clean = len(rooms) > 1
        values = {
            "backing": backing,
            "adhesive": adhesive,
            "thickness_mm": thick,
            "width_mm": width,
            "roughness_um": rough,
            "max_temp_c": hot,
            "room_kinds": rooms,
            "colour": colour,
            "contact_statement": f"Statement of the supplier for {code}, 2 pages" if clean else "",
            "contact_statement_ends": week.day(300) if clean else None,
            "max_life_days": life,
        }
        works.stocks[code] = enter_stock(code=code, name=name, values=values, by=people["yuki"], at=at)
    for product in PRODUCTS:
        _enter_product(product, works, people["dara"], week)


def _enter_product(product: DemoProduct, works: Works, by: Person, week: Week) -> None:
    width, thickness, modulus, tension, speed, friction = product.figures
    values = {
        "width_min_mm": width,
        "width_max_mm": width,
        "thickness_um": thickness,
        "modulus_md_mpa": modulus,
        "modulus_direction": "MD",
        "modulus_method": "Secant at line strain, tensile test of the works' laboratory",
        "modulus_on": week.day(-70),
        "friction": friction,
        "contact_side": product.contact_side,
    }
    values |= {f"tension_{word}_n_per_m": tension for word in ("min", "set", "max")}
    values |= {f"speed_{word}_m_per_min": speed for word in ("min", "set", "max")}
    version = enter_product(
        code=product.code,
        name=product.name,
        family=product.family,
        lines=[works.lines[product.line]],
        values=values,
        by=by,
        at=week.at(GO_LIVE, "14:00"),
    )
    works.products[product.code] = version.product
