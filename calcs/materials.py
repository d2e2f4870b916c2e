"""Web materials: usual properties, supplier tension guidelines, orthotropic relations.

Table values are starting points with a wide band; a plant enters what it measured on its own product.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from calcs import units


@dataclass(frozen=True, slots=True)
class Material:
    """Usual ranges of one web family, SI; ``source`` says where each range comes from."""

    name: str
    modulus: tuple[float, float]
    poisson: tuple[float, float]
    yield_strain: tuple[float, float] | None
    friction: float
    source: str


def _material(
    name: str,
    gpa: tuple[float, float],
    poisson: tuple[float, float],
    yield_pct: tuple[float, float] | None,
    friction: float,
    source: str,
) -> Material:
    strain = None if yield_pct is None else (yield_pct[0] * units.PCT, yield_pct[1] * units.PCT)
    return Material(name, (gpa[0] * units.GPA, gpa[1] * units.GPA), poisson, strain, friction, source)


_TEXT = "modulus: Callister, materials science text, appendix B; Poisson ratio and friction from memory"
_MEMORY = "from memory, not checked: measure your own product"
MATERIALS = {
    material.name: material
    for material in (
        _material("LDPE", (0.172, 0.282), (0.45, 0.45), (7.5, 8.0), 0.3, _TEXT + "; yield: PMC4554610 table 1"),
        _material("HDPE", (1.08, 1.08), (0.42, 0.42), (8, 10), 0.3, _TEXT + "; yield from memory"),
        _material("PP cast", (1.14, 1.55), (0.4, 0.4), (5, 8), 0.3, _TEXT + "; yield from memory"),
        _material("BOPP", (1.7, 2.5), (0.35, 0.4), (4.5, 4.7), 0.3, "public film data; yield: PMC4554610 table 1"),
        _material("PET", (4.5, 4.5), (0.3, 0.38), (2, 4), 0.3, "public PET film data; yield about, from memory"),
        _material("PTFE", (0.40, 0.55), (0.46, 0.46), None, 0.2, _TEXT),
        _material("nylon", (2.0, 3.5), (0.39, 0.39), None, 0.3, "2.4 GPa in a public table; range from memory"),
        _material("PVC", (2.41, 4.14), (0.38, 0.38), (2.2, 4.5), 0.3, _TEXT + "; yield: PMC4554610 table 1"),
        _material("paper", (2, 10), (0.3, 0.4), (1, 2), 0.4, _MEMORY),
        _material("aluminium foil", (69, 69), (0.33, 0.33), (0.05, 0.15), 0.2, _MEMORY),
        _material("spunbond nonwoven", (0.02, 0.3), (0.3, 1.0), None, 0.35, _MEMORY),
    )
}

TENSION_STRESS = {
    "PET": 0.75,
    "LDPE": 0.25,
    "HDPE": 0.25,
    "PP cast": 0.25,
    "BOPP": 0.25,
    "nylon": 0.25,
    "PVC": 0.15,
    "aluminium foil": 1.0,
}
"""Guideline running tension, lbf/in per mil of thickness (a supplier's public table of typical tensions)."""
TENSION_SOURCE = "a supplier's public table of typical running tensions (dfe.com), a guideline"
TENSION_BAND = (0.5, 2.0)
"""Outside this share of the guideline a notice is shown; never a verdict (default, no source)."""


def guideline_tension(material: str, thickness: float) -> float | None:
    """Supplier guideline tension for a film, N/m; None where the table has no entry by thickness."""
    pli_per_mil = TENSION_STRESS.get(material)
    if pli_per_mil is None:
        return None
    stress = pli_per_mil * float(units.FACTORS["line tension"]["pli"] / units.FACTORS["length"]["mil"])
    return stress * thickness


def stable(e_md: float, e_cd: float, poisson_md: float) -> bool:
    """Whether an orthotropic web with these constants can exist: nu12^2 < E1/E2 (any composites text)."""
    return poisson_md**2 < e_md / e_cd


def poisson_cd(e_md: float, e_cd: float, poisson_md: float) -> float:
    """Minor Poisson ratio from symmetry, nu21 = nu12 E2 / E1."""
    return poisson_md * e_cd / e_md


def shear_modulus(e_md: float, e_cd: float, poisson_md: float) -> float:
    """In-plane shear modulus when it was not measured, Pa.

    Parameters
    ----------
    e_md, e_cd
        Moduli in MD and CD, Pa.
    poisson_md
        CD contraction over MD stretch under MD tension, nu12.

    Returns
    -------
    float
        G = E1 E2 / (E1 + E2 + 2 nu12 E2); E / [2 (1 + nu)] when isotropic.

    References
    ----------
    St-Venant's relation (Lekhnitskii; from memory). That the four in-plane constants of well-bonded paper
    are approximately so related: Taylor and Craver 1965.
    """
    return e_md * e_cd / (e_md + e_cd + 2 * poisson_md * e_cd)


def shear_modulus_huber(e_md: float, e_cd: float, poisson_md: float) -> float:
    """Huber's estimate, sqrt(E1 E2) / [2 (1 + sqrt(nu12 nu21))], Pa (from memory); for comparison only."""
    minor = poisson_cd(e_md, e_cd, poisson_md)
    return math.sqrt(e_md * e_cd) / (2 * (1 + math.sqrt(poisson_md * minor)))


def shear_modulus_paper(e_md: float, e_cd: float) -> float:
    """Paper estimate, 0.387 sqrt(E1 E2), Pa (Baum et al. 1981, from memory); for comparison only."""
    return 0.387 * math.sqrt(e_md * e_cd)


def width_loss(width: float, poisson_md: float, strain: float) -> float:
    """How much narrower a free web runs under tension, w nu12 eps_T, m."""
    return width * poisson_md * strain
