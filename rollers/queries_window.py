"""Reads: the window of a run, its set-points now, and since when one lies outside."""

from datetime import datetime

from plant.floor.models import Run
from rollers.models import ReCheck, RecipeProduct, SetPoint
from rollers.rules_window import Change, Window, common_window, outside_since


def present_points(run: Run) -> dict[str, float]:
    """Tension (N/m) and speed (m/min) as last recorded."""
    found = {"tension": run.tension_n_per_m, "speed": run.speed_m_per_min}
    for row in SetPoint.objects.filter(run=run).order_by("pk"):
        found[row.quantity] = row.after
    return found


def _ends(value: float | list[float]) -> tuple[float, float]:
    return (value[0], value[-1]) if isinstance(value, list) else (value, value)


def window_of(run: Run) -> Window:
    """What the product and every recipe in force on the path of a run was computed for."""
    version = run.product_version
    windows = [
        Window(
            (version.tension_min_n_per_m, version.tension_max_n_per_m),
            (0.0, version.speed_max_m_per_min),
        )
    ]
    positions = run.path.steps.values("position")
    rows = RecipeProduct.objects.filter(product=version.product_id, position__in=positions, in_force=True)
    for row in (
        rows.exclude(calculation=None).select_related("calculation", "version").filter(version__stock__isnull=False)
    ):
        state = row.calculation.case["state"] if row.calculation else {}
        windows.append(Window(_ends(state["tension_n_per_m"]), (0.0, _ends(state["speed_m_per_min"])[1])))
    return common_window(windows) or windows[0]


def outside_since_of(run: Run) -> dict[str, datetime | None]:
    """Since when tension lies below, or speed above, the window of a run."""
    rows = list(SetPoint.objects.filter(run=run).order_by("at", "pk"))
    if not rows:
        return {"tension": None, "speed": None}
    changes = [Change(row.quantity, row.after, row.at) for row in rows]
    window = window_of(run)
    found = {quantity: outside_since(changes, window, quantity) for quantity in ("tension", "speed")}
    tested = ReCheck.objects.filter(version__step__path=run.path, details__run=run.pk).order_by("-at").first()
    # Somebody with Size tested the recipes where the line runs now.
    return {quantity: None if since and tested and tested.at >= since else since for quantity, since in found.items()}
