"""Cases of the invented plant Tarn Hollow Works, in the public form. Every product, tape and roller is invented."""

from __future__ import annotations

import copy
from typing import Any

TAPES = {
    "T1": {"thickness_mm": 0.14, "width_mm": 48, "roughness_um": 25, "max_temp_c": 80},
    "T3": {"thickness_mm": 0.055, "width_mm": 50, "roughness_um": 4},
    "T5": {"thickness_mm": 0.090, "width_mm": 50, "roughness_um": 20, "max_temp_c": 150},
}
ROLLERS = {
    "A05": {"diameter_mm": 120, "face_mm": 1800, "wrap_deg": 120, "entry_span_mm": 1400, "roughness_um": 40},
    "B04": {"diameter_mm": 160, "face_mm": 1750, "wrap_deg": 85, "entry_span_mm": 1500, "roughness_um": 25},
    "B09": {"diameter_mm": 200, "face_mm": 1750, "wrap_deg": 95, "entry_span_mm": 1600, "roughness_um": 25},
    "C06": {"diameter_mm": 150, "face_mm": 800, "wrap_deg": 110, "entry_span_mm": 900, "roughness_um": 25},
    "D04": {"diameter_mm": 80, "face_mm": 400, "wrap_deg": 120, "entry_span_mm": 600, "roughness_um": 12},
}
PLACES = {
    "A05": (("operator", "drive"), 600, 792),
    "B04": (("operator",), 700, 850),
    "B09": (("operator", "drive"), 640, 840),
    "C06": (("operator", "drive"), 256, 356),
    "D04": (("operator", "drive"), 120, 170),
}
PRODUCTS = {
    # width mm, thickness um, modulus MPa, tension N/m, speed m/min, friction
    "SF-17": (1500, 17, 120, 50, 280, 0.35),
    "SF-23": (1500, 23, 130, 65, 260, 0.35),
    "SF-30": (1000, 30, 150, 80, 220, 0.35),
    "BO-20": (1600, 20, 2000, 120, 250, 0.30),
    "BO-35": (1600, 35, 1900, 180, 220, 0.30),
    "CP-70": (1500, 70, 6000, 230, 200, 0.40),
    "CP-110": (1300, 110, 5500, 300, 180, 0.40),
    "ML-62": (640, 62, 1030, 110, 100, 0.30),
    "MN-160": (640, 160, 800, 180, 100, 0.35),
    "MP-75": (600, 75, 4000, 150, 100, 0.40),
    "PT-100": (300, 100, 40, 20, 30, 0.20),
    "PT-50": (300, 50, 500, 25, 40, 0.20),
}


def demo_case(product: str, roller: str, tape: str, wraps: int, **changes: Any) -> dict[str, Any]:
    """A product of the invented plant on one of its rollers.

    ``changes`` are dotted names with ``__`` for the point: ``state__tension_n_per_m=84``.
    """
    width, thickness, modulus, tension, speed, friction = PRODUCTS[product]
    ends, inner, outer = PLACES[roller]
    case: dict[str, Any] = {
        "web": {
            "width_mm": width,
            "thickness_um": thickness,
            "modulus_md_mpa": modulus,
            "wander_mm": 5,
        },
        "state": {"tension_n_per_m": tension, "speed_m_per_min": speed},
        "roller": {**ROLLERS[roller], "friction": friction},
        "tape": dict(TAPES[tape]),
        "bands": [{"end": end, "inner_mm": inner, "outer_mm": outer, "wraps": wraps} for end in ends],
    }
    return changed(case, **changes)


def changed(case: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A copy of a case with some values replaced; names as in :func:`demo_case`."""
    new = copy.deepcopy(case)
    for name, value in changes.items():
        part, key = name.split("__")
        new[part][key] = value
    return new
