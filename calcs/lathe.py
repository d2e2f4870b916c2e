"""A profile as the lathe wants it: diameters over the face with their tolerance, as rows, CSV and answer."""

from __future__ import annotations

import io
from itertools import pairwise
from typing import Any

from calcs import VERSION, units
from calcs.metal import STANDING, Cut, Metal, sentences

EVERY = 25e-3
"""Distance of the rows of the lathe table, m."""
LATHE_COLUMNS = ("place_mm", "diameter_mm", "least_mm", "largest_mm")


def height_at(metal: Metal, cut: Cut, place: float) -> float:
    """Height of a cut over the bare radius at a place from the roller centre, m."""
    if cut.shape == "arc":
        return cut.rise * (2 * place / metal.proven.web.width.nominal) ** 2
    for (left, low), (right, high) in pairwise(cut.knots):
        if left <= place <= right:
            return low + (high - low) * (place - left) / (right - left)
    return cut.knots[-1][1]


def lathe_rows(metal: Metal, cut: Cut, every: float = EVERY) -> list[tuple[float, float, float, float]]:
    """Table for the lathe over the whole face: place from the centre, diameter, least and largest, m.

    The drive end is positive. Corners of the profile and the ends of the face are in it besides every ``every`` m.
    """
    half = float(metal.proven.roller.face) / 2
    count = int(half / every)
    places = {round(sign * number * every, 9) for number in range(count + 1) for sign in (-1, 1)}
    places |= {round(place, 9) for place, _ in cut.knots if abs(place) <= half} | {-half, half}
    diameter = float(metal.proven.roller.diameter)
    rows = []
    for place in sorted(places):
        here = diameter + 2 * height_at(metal, cut, place)
        rows.append((place, here, here - metal.tolerance, here + metal.tolerance))
    return rows


def lathe_csv(metal: Metal, cut: Cut, every: float = EVERY) -> str:
    """The table of :func:`lathe_rows` as CSV with its reasons against on top, in mm with micrometres."""
    text = io.StringIO()
    for line in (
        *metal.against,
        f"{cut.shape}, {cut.verdict}; places from the roller centre, drive end positive",
        STANDING,
    ):
        text.write(f"# {line}\n")
    text.write(",".join(LATHE_COLUMNS) + "\n")
    for row in lathe_rows(metal, cut, every):
        text.write(",".join(f"{value / units.MM:.3f}" for value in row) + "\n")
    return text.getvalue()


def as_answer(metal: Metal, cut: Cut | None = None) -> dict[str, Any]:
    """Plain form for JSON, units in the names, with the table of ``cut`` (the best shape when left out)."""
    chosen = metal.best if cut is None else cut
    return {
        "verdict": metal.verdict,
        "best_shape": metal.best.shape,
        "against": list(metal.against),
        "tape": {
            "cd_stress_mean_mpa": metal.tape_cd_mean / units.MPA,
            "edge_strain_pct": metal.tape_edge_strain / units.PCT,
            "centre_loss": metal.tape_centre_loss,
        },
        "diameter_tolerance_mm": metal.tolerance / units.MM,
        "shapes": [_cut_dict(cut) for cut in metal.cuts],
        "lathe_shape": chosen.shape,
        "lathe": [
            {name: value / units.MM for name, value in zip(LATHE_COLUMNS, row, strict=True)}
            for row in lathe_rows(metal, chosen)
        ],
        "sentences": sentences(metal),
        "standing": STANDING,
        "version": VERSION,
    }


def _cut_dict(cut: Cut) -> dict[str, Any]:
    return {
        "shape": cut.shape,
        "verdict": cut.verdict,
        "rise_mm": cut.rise / units.MM,
        "cd_stress_mean_mpa": cut.cd_mean / units.MPA,
        "edge_strain_pct": cut.edge_strain / units.PCT,
        "centre_loss": cut.centre_loss,
        "cd_stress_rms_difference_mpa": cut.cd_rms / units.MPA,
        "md_strain_rms_difference_pct": cut.strain_rms / units.PCT,
        "products": [
            {
                "name": product.name,
                "verdict": product.verdict,
                "because": product.because,
                "checks": product.words,
                "line_strain_pct": product.line_strain / units.PCT,
                "edge_ratio": product.edge_ratio,
                "centre_loss": product.centre_loss,
                "edge_strain_pct": product.edge_strain / units.PCT,
            }
            for product in cut.products
        ],
    }
