"""What the sizing page offers at a position, what was asked of it, and the answer."""

from dataclasses import dataclass

from django.http import HttpRequest, QueryDict

from plant.errors import Refused
from plant.floor.models import PathStep, Position, ProductVersion
from plant.floor.queries import current_versions
from plant.web.quantities import digits
from plant.web.refusing import keep_on_form
from rollers import queries
from rollers.access import mounting_at, position_by_code
from rollers.forms.sizing import WHAT_IF, SizingForm
from rollers.models import Body, TapeStock
from rollers.readiness import present_limits
from rollers.rooms import room_kinds
from rollers.trial import Place, Tried, WhatIf, start_place, try_tape
from rollers.views import shown


@dataclass(frozen=True)
class Bench:
    """What can be chosen at this position."""

    position: Position
    body: Body
    steps: list[PathStep]
    versions: list[ProductVersion]
    stocks: list[TapeStock]
    room_kind: str

    @property
    def half_face_mm(self) -> int:
        """How far from the centre a band edge can lie."""
        return int(self.body.face_mm // 2)

    def step(self, pk: int) -> PathStep:
        """A threading that passes this roller."""
        for step in self.steps:
            if step.pk == pk:
                return step
        raise Refused("no-step", f"This path does not pass {self.position}. Choose another.", field="step")

    def stock(self, code: str) -> TapeStock:
        """A stock by its code; the form offers only those there are."""
        return next(stock for stock in self.stocks if stock.code == code)

    def chosen(self, codes: list[str]) -> list[ProductVersion]:
        """The chosen products, in the order of the list."""
        return [version for version in self.versions if version.product.code in codes]


def bench_of(request: HttpRequest, code: str) -> Bench:
    """Everything the page offers; refused where the roller or its diameter is not known."""
    position = position_by_code(code)
    body = mounting_at(position).body
    if body.diameter_mm is None:
        sentence = f"The diameter of {body} at {position} is not known. Maintenance measures it; then it can be sized."
        raise Refused("no-diameter", sentence)
    steps = list(position.steps.filter(path__in_use=True).select_related("path", "position"))
    if not steps:
        raise Refused(
            "no-path", f"No path in use passes {position}. The process engineer enters it on the line's page."
        )
    kind = room_kinds({position.room_id}, shown.moment_at(request))[position.room_id]
    return Bench(
        position,
        body,
        steps,
        list(current_versions().filter(product__lines=position.line)),
        list(TapeStock.objects.all()),
        kind,
    )


def form_of(request: HttpRequest, bench: Bench, sent: QueryDict) -> SizingForm:
    """The form of the page with what was sent."""
    units = shown.units_of(request)
    return SizingForm(sent, steps=bench.steps, versions=bench.versions, stocks=bench.stocks, units=units)


def filled(bench: Bench, sent: QueryDict) -> QueryDict:
    """What was sent, and a usual start for what was not: first product, permitted tape, usual band."""
    given = sent.copy()
    given.setdefault("step", str(bench.steps[0].pk))
    if "products" not in given and bench.versions and "stock" not in given:
        given.setlist("products", [bench.versions[0].product.code])
    allowed = [stock for stock in bench.stocks if bench.room_kind in stock.room_kinds] or bench.stocks
    if "stock" not in given and allowed:
        given["stock"] = allowed[0].code
    given.setdefault("ends", "both")
    chosen = bench.chosen(given.getlist("products"))
    known = {stock.code: stock for stock in bench.stocks}
    stock = known.get(str(given.get("stock")))
    if "inner" not in given and "outer" not in given and chosen and stock is not None:
        widest = max(chosen, key=lambda version: version.width_max_mm)
        ends = given["ends"] if given["ends"] in ("both", "operator", "drive") else "both"
        start = start_place(widest, stock, bench.body, present_limits(), ends)
        given["inner"], given["outer"] = digits(start.inner_mm), digits(start.outer_mm)
        given["inner_unit"] = given["outer_unit"] = "mm"
    return given


def tried_of(form: SizingForm, bench: Bench) -> tuple[PathStep, TapeStock, Tried] | None:
    """The answer, or None with the sentences on the form."""
    if not form.is_valid():
        return None
    try:
        step = bench.step(form.cleaned_data["step"])
        inner, outer = form.number("inner"), form.number("outer")
        if inner is None or outer is None:
            name, sentence = ("inner", "inner") if inner is None else ("outer", "outer")
            raise Refused("no-band", f"Type the {sentence} edge of the band, from the roller centre.", field=name)
        changes = {f"{name}_pct": form.cleaned_data.get(f"{name}_change") or 0 for name, _ in WHAT_IF}
        stock = bench.stock(form.cleaned_data["stock"])
        tried = try_tape(
            step,
            bench.body,
            stock,
            Place(form.cleaned_data["ends"] or "both", inner, outer),
            bench.chosen(form.cleaned_data["products"]),
            wraps=form.cleaned_data["wraps"],
            what_if=WhatIf(**changes),
            misalignment=queries.misalignments([bench.position]).get(bench.position.pk),
            limits=present_limits(),
        )
    except Refused as refusal:
        keep_on_form(form, refusal)
        return None
    return step, stock, tried
