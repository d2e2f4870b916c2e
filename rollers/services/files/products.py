"""Products as CSV: the current figures, a row per product."""

from collections.abc import Iterator

from plant.floor.access import line_by_code
from plant.floor.models import Product, ProductVersion
from plant.floor.queries import current_versions
from plant.floor.rules import PRODUCT_BOUNDS, strain_doubt
from plant.floor.services import enter_product
from rollers.services.files.columns import (
    Row,
    choice,
    day,
    quantity,
    ratio,
    several,
    shown_day,
    text,
    word,
    written,
    yes_no,
)
from rollers.services.files.taking import Asked, Kind, Taking

FIGURES = (
    quantity("modulus_md_mpa", "modulus in machine direction, secant at line strain", needed=True),
    quantity("modulus_cd_mpa", "modulus across the web"),
    ratio("poisson_md", "Poisson's ratio"),
    quantity("thickness_um", "web thickness", needed=True),
    quantity("width_min_mm", "narrowest width", needed=True),
    quantity("width_max_mm", "widest width", needed=True),
    quantity("wander_mm", "sideways wander, to each side"),
    quantity("tension_min_n_per_m", "lowest tension, per width", needed=True),
    quantity("tension_set_n_per_m", "usual tension", needed=True),
    quantity("tension_max_n_per_m", "highest tension", needed=True),
    quantity("speed_min_m_per_min", "lowest speed", needed=True),
    quantity("speed_set_m_per_min", "usual speed", needed=True),
    quantity("speed_max_m_per_min", "highest speed", needed=True),
    ratio("friction", "friction of the web on the bare roller", needed=True),
    quantity("roughness_um", "roughness Rq of the web"),
    quantity("yield_strain_pct", "strain at yield"),
    quantity("max_contact_temp_c", "hottest surface it may touch"),
)
COLUMNS = (
    text("code", "product code", needed=True),
    text("name", "what people call it", needed=True),
    text("family", "web family, for example BOPP"),
    several("lines", "codes of the lines it may run on", needed=True),
    *FIGURES,
    choice("modulus_direction", "direction the modulus was measured in, empty when not known", ("MD",)),
    text("modulus_method", "how the modulus was measured"),
    day("modulus_on", "when the modulus was measured"),
    yes_no("porous", "air passes through the web"),
    choice("contact_side", "web side that touches the product", ("A", "B")),
    yes_no("strain_confirmed", "a line strain outside the usual range is meant"),
)


def take(rows: list[Row], taking: Taking) -> None:
    for row in rows:
        with taking.row(row):
            taking.once(row, "code", row["code"], "Product")
            values = row.figures(*FIGURES)
            texts = ("modulus_direction", "modulus_method", "modulus_on", "porous", "contact_side")
            values |= {name: row[name] for name in texts if row[name]}
            version = enter_product(
                code=row["code"],
                name=row["name"],
                family=row.text("family"),
                lines=[line_by_code(code) for code in row["lines"]],
                values=values,
                confirmed=bool(row["strain_confirmed"]),
                by=taking.by,
                at=taking.at,
            )
            taking.made.append((row.line, f"product {version.product.code} for line {', '.join(row['lines'])}"))


def _is_doubtful(version: ProductVersion) -> bool:
    return bool(strain_doubt({field: getattr(version, field) for field in PRODUCT_BOUNDS}))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    versions = current_versions().prefetch_related("product__lines")
    if asked.filters.get("line"):
        versions = versions.filter(product__in=Product.objects.filter(lines=line_by_code(asked.filters["line"])))
    for version in versions:
        row = {
            "code": version.product.code,
            "name": version.product.name,
            "family": version.product.family,
            "lines": " | ".join(line.code for line in version.product.lines.all()),
        }
        for column in FIGURES:
            row |= written(column, version)
        yield row | {
            "modulus_direction": version.modulus_direction,
            "modulus_method": version.modulus_method,
            "modulus_on": shown_day(version.modulus_on),
            "porous": word(version.porous),
            "contact_side": version.contact_side,
            "strain_confirmed": word(_is_doubtful(version)),
        }


_UNITS = {
    "modulus_md": ("2100", "MPa"),
    "thickness": ("0.79", "mil"),
    "width_min": ("1200", "mm"),
    "width_max": ("1400", "mm"),
    "wander": ("5", "mm"),
    "tension_min": ("100", "N/m"),
    "tension_set": ("120", "N/m"),
    "tension_max": ("140", "N/m"),
    "speed_min": ("50", "m/min"),
    "speed_set": ("240", "m/min"),
    "speed_max": ("260", "m/min"),
}
KIND = Kind(
    "products",
    "Products",
    "A row per product with its present figures. Changed figures are entered on the product's page, as a new version.",
    COLUMNS,
    take,
    give,
    (
        {
            "code": "LF-20",
            "name": "Lid film 20",
            "family": "BOPP",
            "lines": "S",
            "friction": "0.3",
            "modulus_direction": "MD",
            "modulus_method": "tensile strip, secant at 0.3 %",
            "modulus_on": "2025-11-03",
            "porous": "no",
        }
        | {name: value for name, (value, _) in _UNITS.items()}
        | {f"{name}_unit": unit for name, (_, unit) in _UNITS.items()},
    ),
    filters=("line",),
)
