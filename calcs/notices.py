"""Notices: a value and a sentence that a person should know, never a verdict."""

from __future__ import annotations

from dataclasses import dataclass

from calcs import corners, materials, profile, strain, units, wrinkle
from calcs.case import Case
from calcs.corners import Field
from calcs.limits import Limits


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to know; ``value`` in ``unit`` where there is one."""

    id: str
    title: str
    sentence: str
    value: float | None = None
    unit: str = ""
    source: str = "worked out from elementary mechanics, not from plant tests"

    def as_dict(self) -> dict[str, str | float | None]:
        """Plain form."""
        return {
            "id": self.id,
            "title": self.title,
            "sentence": self.sentence,
            "value": self.value,
            "unit": self.unit,
            "source": self.source,
        }


def bridging(case: Case, step_height: float) -> float:
    """Length over which the nominal web bridges beside a step of this height, m (CD stiffness)."""
    web = case.web
    e_md, e_cd, minor = web.modulus_md.nominal, web.modulus_cd.nominal, web.poisson_md.nominal
    other = materials.poisson_cd(e_md, e_cd, minor)
    stiffness = wrinkle.plate_stiffness(e_cd, web.thickness.nominal, minor, other)
    return strain.bridging_length(stiffness, step_height, case.roller.diameter.nominal / 2, case.state.tension.nominal)


def notices_for(case: Case, field: Field, number: int, ends: int, limits: Limits, material: str | None) -> list[Notice]:
    """All notices of one case.

    Parameters
    ----------
    case, field, number
        The case and its place in the field.
    ends
        Number of ends with tape under the web.
    limits
        The plant's limits.
    material
        A name of ``materials.MATERIALS``, when the web family is known.
    """
    found = [
        *_placing(case, field, number, ends),
        _floating(field, number, ends),
        _marking(case, field, number),
        _tension(case, material),
        _line_strain(case, field, number, limits),
        _alignment(case, limits),
    ]
    return [notice for notice in found if notice is not None]


def _placing(case: Case, field: Field, number: int, ends: int) -> list[Notice]:
    laid = profile.signed_cells(case.bands)
    if not laid:
        return []
    if ends == 0:
        gap = min(step.place for step in profile.rising_steps(case.bands)) - case.web.width.nominal / 2
        text = f"The web edge runs {gap / units.MM:.0f} mm inside the tape: not touched, no effect."
        return [Notice("not_touched", "Tape not touched", text, gap / units.MM, "mm")]
    found = []
    if ends == 1:
        shift = float(field.shift[number, corners.NOMINAL, 0]) / units.MM
        toward = "drive" if shift > 0 else "operator"
        text = (
            f"The web will steer toward the taped end: about {abs(shift):.2f} mm to the {toward} end at this "
            "roller (slender span; a short wide one moves more). One-end tape steers, it does not spread."
        )
        found.append(Notice("one_end", "One-end tape steers", text, shift, "mm"))
    inside = [
        end
        for end in ("operator", "drive")
        for group in profile.end_groups(case.bands, end)
        if group[-1].high < case.web.width.low / 2
    ]
    if inside:
        text = (
            f"A band at the {inside[0]} end lies wholly inside the web edge: the strip outside it runs on the "
            "smaller diameter and can gather instead of spread."
        )
        found.append(Notice("inside_edge", "Band inside the web edge", text))
    return found


def _floating(field: Field, number: int, ends: int) -> Notice | None:
    if ends:
        return None
    kept = float(field.kept_bare[number, [corners.NOMINAL, corners.GRIP]].min())
    if kept > 0:
        return None
    text = (
        "At the fastest, slackest running point the web floats on air over this bare roller: the roller may stop "
        "turning and does not guide. Lower speed, more tension or a rougher roller bring the grip back."
    )
    return Notice("floats", "Bare roller floats", text, kept, "1")


def _marking(case: Case, field: Field, number: int) -> Notice | None:
    layers = float(field.lanes.highest[number, 0])
    if not layers or case.tape is None:
        return None
    length = bridging(case, layers * case.tape.thickness.nominal) / units.MM
    text = f"Beside the step the web bridges about {length:.1f} mm and may show a line; stairs of layers mark less."
    return Notice("marking", "Step marking", text, length, "mm")


def _tension(case: Case, material: str | None) -> Notice | None:
    if material is None:
        return None
    guide = materials.guideline_tension(material, case.web.thickness.nominal)
    if guide is None:
        return None
    low, high = (share * guide for share in materials.TENSION_BAND)
    tension = case.state.tension
    if low <= tension.low and tension.high <= high:
        return None
    text = (
        f"The usual tension for {material} of this thickness is about {guide:.0f} N/m; this product runs at "
        f"{tension.low:.0f} to {tension.high:.0f} N/m. Check that the set-point is what the web really feels."
    )
    return Notice("tension_table", "Unusual tension", text, tension.nominal / guide, "1", materials.TENSION_SOURCE)


def _line_strain(case: Case, field: Field, number: int, limits: Limits) -> Notice | None:
    if case.web.yield_strain is None:
        return None
    limit = limits["line_strain"]
    share = float(field.mean[number, corners.STRETCH, 0]) / case.web.yield_strain.low
    if not limit.breaks(share, limit.caution):
        return None
    text = f"The line strain alone is up to {share:.0%} of the yield strain; usual is 5 to 20 %. Check the tension."
    return Notice("line_strain", "High line strain", text, share, "1", limit.source)


def _alignment(case: Case, limits: Limits) -> Notice | None:
    skew, limit = case.roller.misalignment, limits["alignment"]
    most = max(abs(skew.low), abs(skew.high)) / units.MM_PER_M
    if not limit.breaks(most, limit.caution):
        return None
    word = "fails" if limit.breaks(most, limit.refuse) else "is doubtful"
    text = (
        f"The roller is {most:.2f} mm/m out of line, which {word} by the alignment rule ({limit.caution} and "
        f"{limit.refuse} mm/m). Align it first: tape does not cure misalignment."
    )
    return Notice("alignment", "Misalignment", text, most, "mm/m", limit.source)
