"""What an engineer tries on the sizing page: tape on one roller for one or several products. Nothing is stored."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from calcs import sizing
from calcs.case import Case, CaseError, parse_case
from calcs.limits import Limits
from calcs.verdict import check_many
from plant.errors import Refused
from plant.floor.models import PathStep, ProductVersion
from rollers.cases import TypedBand, case_for
from rollers.models import Body, TapeStock

# Fields of a case, and the input of the page that is meant.
INPUTS = {"inner": "inner", "outer": "outer", "wraps": "wraps", "tape": "stock", "bands": "inner"}


@dataclass(frozen=True)
class WhatIf:
    """A change in percent against what the product's data say."""

    tension_pct: float = 0
    speed_pct: float = 0
    modulus_pct: float = 0

    @property
    def asked(self) -> bool:
        """Whether anything is changed at all."""
        return any((self.tension_pct, self.speed_pct, self.modulus_pct))

    def changed(self, case: dict[str, Any]) -> dict[str, Any]:
        """The case with its figures changed."""
        web, state = dict(case["web"]), dict(case["state"])
        web["modulus_md_mpa"] = _scaled(web["modulus_md_mpa"], self.modulus_pct)
        state["tension_n_per_m"] = _scaled(state["tension_n_per_m"], self.tension_pct)
        state["speed_m_per_min"] = _scaled(state["speed_m_per_min"], self.speed_pct)
        return case | {"web": web, "state": state}


def _scaled(value: Any, percent: float) -> Any:
    factor = 1 + percent / 100
    return [part * factor for part in value] if isinstance(value, list) else value * factor


@dataclass(frozen=True)
class Place:
    """Where the tape would lie: mm from the roller centre."""

    ends: str
    inner_mm: float
    outer_mm: float

    def bands(self, wraps: int) -> list[TypedBand]:
        """One band at each taped end."""
        ends = ("operator", "drive") if self.ends == "both" else (self.ends,)
        return [TypedBand(end, self.inner_mm, self.outer_mm, wraps) for end in ends]


@dataclass(frozen=True)
class OneProduct:
    """What the tape does to one product: as its data say, and with the what-if."""

    version: ProductVersion
    formula: float | None
    suggested: int
    case: dict[str, Any]
    parsed: Case
    result: dict[str, Any]
    changed_case: dict[str, Any] | None = None
    changed: dict[str, Any] | None = None

    @property
    def code(self) -> str:
        """The product's code."""
        return self.version.product.code

    @property
    def shown(self) -> dict[str, Any]:
        """The answer the page shows: with the what-if where one is asked."""
        return self.changed if self.changed is not None else self.result

    @property
    def moved(self) -> list[dict[str, Any]]:
        """Checks whose word changed by the what-if."""
        if self.changed is None:
            return []
        before = {row["id"]: row["verdict"] for row in self.result["checks"]}
        return [row for row in self.changed["checks"] if row["verdict"] != before[row["id"]]]


@dataclass(frozen=True)
class Tried:
    """The answer of the page."""

    suggestion: sizing.Suggestion
    wraps: int
    bands: list[TypedBand]
    products: tuple[OneProduct, ...]
    limits: Limits

    @property
    def verdict(self) -> str:
        """Overall word over all products as shown."""
        return worst(row.shown["verdict"] for row in self.products)

    @property
    def drafted_verdict(self) -> str:
        """Overall word without any what-if: what a draft would be judged by."""
        return worst(row.result["verdict"] for row in self.products)


ORDER = ("fits", "caution", "cannot tell", "refused")


def worst(words: Iterable[str]) -> str:
    """The worst of some verdicts."""
    return max(words, key=ORDER.index, default="fits")


def start_place(version: ProductVersion, stock: TapeStock, body: Body, limits: Limits, ends: str = "both") -> Place:
    """Where to start: the usual share of the web on tape, whole lanes, some tape past the web edge.

    The shares and the overhang are the targets of the limits; the outer edge stays on the face.
    """
    share = limits["share_two_high" if ends == "both" else "share_one_high"].target or 0.2
    past = limits["overhang"].target or 20.0
    on_web = version.width_max_mm * share / (2 if ends == "both" else 1)
    lanes = max(1, math.ceil((on_web + past) / stock.width_mm - 1e-9))
    inner = math.floor(version.width_max_mm / 2 - on_web)
    room = math.floor(body.face_mm / 2 - limits.refuse("face_margin"))
    return Place(ends, float(inner), float(max(inner + 1, min(inner + lanes * stock.width_mm, room))))


def try_tape(
    step: PathStep,
    body: Body,
    stock: TapeStock,
    place: Place,
    versions: Sequence[ProductVersion],
    *,
    wraps: int | None,
    what_if: WhatIf,
    misalignment: float | None,
    limits: Limits,
) -> Tried:
    """Suggest wraps, and judge the chosen number (or the suggestion) for every product.

    Raises
    ------
    Refused
        Something cannot be computed; the sentence names it.
    """
    bands = place.bands(1)
    cases = [case_for(version, step, body, stock=stock, bands=bands, misalignment=misalignment) for version in versions]
    parsed = [_parsed(case, version) for case, version in zip(cases, versions, strict=True)]
    suggestion = sizing.suggest(parsed, limits)
    chosen = suggestion.wraps if wraps is None else wraps
    alone = [sizing.suggest(case, limits).wraps for case in parsed] if len(parsed) > 1 else [suggestion.wraps]
    carried = [_with_wraps(case, chosen) for case in cases]
    results = _judged(carried, versions, limits)
    changed_cases: Sequence[dict[str, Any] | None] = [None] * len(carried)
    changed: Sequence[dict[str, Any] | None] = [None] * len(carried)
    if what_if.asked:
        fresh = [what_if.changed(case) for case in carried]
        changed_cases, changed = fresh, _judged(fresh, versions, limits)
    products = tuple(
        OneProduct(version, formula, own, case, parsed_case, result, new_case, new)
        for version, formula, own, case, parsed_case, result, new_case, new in zip(
            versions,
            suggestion.formula,
            alone,
            carried,
            parsed,
            results,
            changed_cases,
            changed,
            strict=True,
        )
    )
    return Tried(suggestion, chosen, place.bands(chosen) if chosen else [], products, limits)


def _with_wraps(case: dict[str, Any], wraps: int) -> dict[str, Any]:
    if wraps == 0:
        return {key: value for key, value in case.items() if key not in ("tape", "bands")}
    return case | {"bands": [band | {"wraps": wraps} for band in case["bands"]]}


def _parsed(case: dict[str, Any], version: ProductVersion) -> Case:
    try:
        return parse_case(case)
    except CaseError as trouble:
        last = trouble.field.rsplit(".", 1)[-1].split("_")[0]
        field = INPUTS.get(last, INPUTS.get(trouble.field.split("[")[0].split(".")[0], ""))
        raise Refused("cannot-compute", f"{version.product}: {trouble.sentence}", field=field) from None


def _judged(
    cases: Sequence[dict[str, Any]], versions: Sequence[ProductVersion], limits: Limits
) -> list[dict[str, Any]]:
    parsed = [_parsed(case, version) for case, version in zip(cases, versions, strict=True)]
    return [verdict.as_dict() for verdict in check_many(parsed, limits)]


def hold_parts(result: dict[str, Any]) -> dict[str, float | None]:
    """What tape and bare face must hold, what they can, and the share used: tape and bare apart."""
    ratio, loss = result["edge_ratio"], result["centre_loss"]
    need_tape = math.log(max(ratio, 1.0)) if result["hold_tape"] is not None else None
    need_bare = -math.log(1 - loss) if loss < 1 else None
    return {
        "need_tape": need_tape,
        "can_tape": result["hold_tape"],
        "used_tape": _share(need_tape, result["hold_tape"]),
        "need_bare": need_bare,
        "can_bare": result["hold_bare"],
        "used_bare": _share(need_bare, result["hold_bare"]),
    }


def _share(need: float | None, can: float | None) -> float | None:
    return need / can if need is not None and can else None
