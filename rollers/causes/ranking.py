"""The margins of every roller of a path, from the plant's records. Reads only."""

from dataclasses import dataclass

from calcs import units
from calcs.limits import Limits
from plant.floor.models import PathStep, Position, ProductVersion, WebPath
from rollers import queries
from rollers.cases import SetPoints
from rollers.causes.margins import AlignmentRules, RollerHere, RollerMargins, WebRun, margins_of, ranked
from rollers.causes.models import CauseEntry
from rollers.models import Body
from rollers.readiness import present_limits


@dataclass(frozen=True)
class Ranked:
    """One roller of the path with its margins; `margins` is None where no roller is recorded."""

    step: PathStep
    body: Body | None
    margins: RollerMargins | None


@dataclass(frozen=True)
class PathRanking:
    """The whole path for one product at its set-points, in path order, and by nearness."""

    path: WebPath
    version: ProductVersion
    at: SetPoints
    rows: tuple[Ranked, ...]
    order: tuple[RollerMargins, ...]
    limits_version: str

    def as_dict(self) -> list[dict[str, object]]:
        """Plain rows, nearest first, to be kept with a walk."""
        return [
            {
                "position": row.code,
                "nearness": row.nearness,
                "assumed": row.is_assumed,
                "critical_mm_per_m": row.critical / units.MM_PER_M,
                "trough_mm_per_m": row.trough_at / units.MM_PER_M,
                "film_over_roughness": row.film if row.film < 1e6 else None,
                "friction_kept": row.kept,
                "says": [margin.sentence for margin in row.margins],
            }
            for row in self.order
        ]


def web_run(version: ProductVersion, at: SetPoints) -> WebRun:
    """The product's web at set-points, SI."""
    return WebRun(
        width=version.width_max_mm * units.MM,
        thickness=version.thickness_um * units.UM,
        modulus=version.modulus_md_mpa * units.MPA,
        tension=at.tension_n_per_m,
        speed=at.speed_m_per_min * units.M_PER_MIN,
        friction=version.friction,
        roughness=version.roughness_um * units.UM,
        porous=version.porous,
        modulus_cd=version.modulus_cd_mpa * units.MPA if version.modulus_cd_mpa else None,
        poisson=0.3 if version.poisson_md is None else version.poisson_md,
    )


def alignment_rules(limits: Limits) -> AlignmentRules:
    """What holds where nothing was measured."""
    caution = limits["alignment"].caution
    return AlignmentRules(
        alignment=(limits.refuse("alignment") if caution is None else caution) * units.MM_PER_M,
        drag=limits.refuse("drag_share"),
        sag=limits.refuse("cause_sag") * units.MM_PER_M,
        diameter=limits.refuse("cause_diameter_spread") * units.MM,
        diameter_strain_share=limits.refuse("cause_diameter_strain"),
    )


def measured_causes(positions: list[Position]) -> dict[int, dict[str, float]]:
    """The newest measured value of each cause by position, from cause sheets, in the cause's stored unit."""
    rows = CauseEntry.objects.filter(sheet__position__in=positions, value__isnull=False).select_related("sheet")
    found: dict[int, dict[str, float]] = {}
    for row in rows.order_by("pk"):
        if row.value is not None:
            found.setdefault(row.sheet.position_id, {})[row.cause] = row.value
    return found


def path_ranking(path: WebPath, version: ProductVersion, at: SetPoints | None = None) -> PathRanking:
    """Every roller of the path with its margins; a fixed number of queries."""
    steps = list(path.steps.select_related("position").order_by("order"))
    positions = [step.position for step in steps]
    mountings, tilt = queries.mounted(positions), queries.misalignments(positions)
    causes, limits = measured_causes(positions), present_limits()
    points = at or SetPoints(version.tension_set_n_per_m, version.speed_set_m_per_min)
    web, rules = web_run(version, points), alignment_rules(limits)
    rows = []
    for step in steps:
        mounting = mountings.get(step.position_id)
        body = mounting.body if mounting else None
        here = roller_of_step(step, body, tilt.get(step.position_id), causes.get(step.position_id, {}))
        rows.append(Ranked(step, body, margins_of(web, here, rules) if here else None))
    order = ranked([row.margins for row in rows if row.margins])
    return PathRanking(path, version, points, tuple(rows), tuple(order), limits.version)


def roller_of_step(
    step: PathStep, body: Body | None, tilt: float | None, causes: dict[str, float]
) -> RollerHere | None:
    """The roller of a path step, SI; None where its diameter is not known."""
    if body is None or body.diameter_mm is None:
        return None
    sag = causes.get("deflection")
    return RollerHere(
        code=step.position.code,
        radius=body.diameter_mm * units.MM / 2,
        wrap=step.wrap_deg * units.DEG,
        span=step.entry_span_mm * units.MM,
        roughness=body.roughness_um * units.UM,
        face=body.face_mm * units.MM,
        misalignment=None if tilt is None else tilt * units.MM_PER_M,
        diameter_spread=_times(causes.get("diameter"), units.MM),
        sag=None if sag is None else sag * units.MM_PER_M * body.face_mm * units.MM,
        drag=_times(causes.get("drag"), units.PCT),
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor
