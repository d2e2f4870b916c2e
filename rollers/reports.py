"""What can be printed of the work on rollers."""

from datetime import datetime

from plant.errors import NotFound
from plant.floor.models import Plant
from plant.reports.registry import Page, report
from rollers.models import Release


@report("release-record")
def release_record(subject_id: str, at: datetime) -> Page:
    """The release of a run: what was on every position, what was said, who signed."""
    found = (
        Release.objects.select_related("run__product_version__product", "run__path__line", "signature")
        .filter(run=int(subject_id))
        .first()
        if subject_id.isdigit()
        else None
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
        "signature": found.signature,
        "time_zone": plant.time_zone,
    }
    record = {
        "release": found.snapshot,
        "signature": {
            "printed_name": found.signature.printed_name,
            "roles": found.signature.roles_then,
            "meaning": found.signature.meaning,
            "at": found.signature.at,
            "local_time": found.signature.local_time,
            "digest": found.signature.digest,
        },
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
