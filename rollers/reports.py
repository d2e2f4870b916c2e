"""What can be printed of the work on rollers."""

from datetime import datetime
from typing import Any

from calcs.case import parse_case
from plant.audit.services.signing import as_shown
from plant.errors import NotFound
from plant.floor.models import Plant
from plant.reports.registry import Page, number_in, report
from plant.web.svg import curve_plot, curve_table, span_map, span_table
from rollers import web_in_span
from rollers.models import RecipeProduct, RecipeVersion, Release
from rollers.queries import label_of


@report("release-record")
def release_record(subject_id: str, at: datetime) -> Page:
    """The release of a run: what was on every position, what was said, who signed."""
    found = (
        Release.objects.select_related("run__product_version__product", "run__path__line", "signature")
        .filter(run=number_in(subject_id))
        .first()
    )
    if found is None:
        raise NotFound("released run", subject_id, "Only a released run has a release record.")
    plant = Plant.objects.get()
    title = f"Release of {found.run.product_version.product} on {found.run.path}"
    context = {
        "plant_name": plant.name,
        "release": found,
        "run": found.run,
        "snapshot": found.snapshot,
        "columns": ["Position", "Roller", "Must be", "Is", "Check", "Said"],
        "rows": [_row(place) for place in found.snapshot["positions"]],
        "others": [_row(place) for place in found.snapshot["off_path"]],
        "rooms": ", ".join(sorted({place["room_kind"] for place in found.snapshot["positions"]})),
        "signature": as_shown(found.signature, found.snapshot),
        "time_zone": plant.time_zone,
    }
    record = {
        "release": found.snapshot,
        "signature": as_shown(found.signature, found.snapshot)
        | {"at": found.signature.at, "local_time": found.signature.local_time},
        "as_of": at,
    }
    return Page(title, "rollers/reports/release.html", context, record, at)


def _row(place: dict) -> list[str]:
    said = " ".join(found["sentence"] for found in place["findings"])
    return [
        place["position"],
        place["body"] or "not recorded",
        place["required"],
        place["on"],
        place["verdict"] or "no tape, nothing to check",
        said or "–",
    ]


@report("mechanics")
def mechanics(subject_id: str, at: datetime) -> Page:
    """What the tape of a recipe version does to the web, from the stored cases: numbers and the page's pictures."""
    version = (
        RecipeVersion.objects.select_related("recipe__position", "stock")
        .prefetch_related("bands", "products__product", "products__calculation")
        .filter(pk=number_in(subject_id))
        .first()
    )
    if version is None or version.stock is None:
        raise NotFound("taped recipe version", subject_id, "Open the recipe and print from there.")
    plant = Plant.objects.get()
    rows = [row for row in version.products.all() if row.calculation]
    context = {
        "plant_name": plant.name,
        "version": version,
        "label": label_of(version),
        "products": [_in_span(row, number) for number, row in enumerate(rows)],
        "time_zone": plant.time_zone,
    }
    record: dict[str, Any] = {
        "recipe": label_of(version),
        "state": version.state,
        "products": {
            row.product.code: {"case": row.calculation.case, "result": row.calculation.result}
            for row in rows
            if row.calculation
        },
        "as_of": at,
    }
    title = f"{version.recipe.position}: what the tape does to the web"
    return Page(title, "rollers/reports/mechanics.html", context, record, at)


def _in_span(row: RecipeProduct, number: int) -> dict[str, Any]:
    """The stored numbers of a product; the pictures are drawn again from the stored case."""
    code, calculation = row.product.code, row.calculation
    if calculation is None:
        return {"code": code}
    one = web_in_span.stored_parts(code, calculation.result)
    parts: dict[str, Any] = {"code": code, "calculation": calculation, "one": one, "pictures": []}
    if not one or one["answer"].get("not_worked_out"):
        return parts
    case, found = parse_case(calculation.case), web_in_span.report_of(calculation.case)
    drawn = web_in_span.map_picture(code, case, found.taped, f"span-{number}", "paper")
    stress = web_in_span.stress_picture(code, case, found, f"stress-{number}", "paper")
    parts["pictures"] = [(span_map(drawn), span_table(drawn)), (curve_plot(stress), curve_table(stress))]
    return parts
