"""What can be printed of the store: labels with their code, a count beside the ledger, a recall."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import segno
from django.utils.safestring import SafeString, mark_safe

from plant.errors import NotFound
from plant.floor.models import Plant
from plant.floor.queries import plant_zone
from plant.reports.registry import Page, number_in, report
from rollers.access_store import bag_by_label, count_by_pk, lot_by_pk
from rollers.models import Knife, Lot, Reel
from rollers.queries_recall import Recall, TapingOfLot, recall_of
from rollers.queries_store import reels_now
from rollers.rules_store import Compared, CountRow
from rollers.services.counting import hints

LABELS = "rollers/reports/store/labels.html"
QUIET = 4  # modules of margin that ISO/IEC 18004 asks for


@dataclass(frozen=True)
class Label:
    """One label: the code inside the picture is the printed one and says nothing by itself."""

    code: str
    title: str
    lines: tuple[str, ...]

    @property
    def picture(self) -> SafeString:
        """QR code of level Q; the sheet prints it 24 mm wide."""
        code = segno.make(self.code, error="q", micro=False, boost_error=False)
        drawn = code.svg_inline(scale=1, border=QUIET, omitsize=True, svgclass="qr", lineclass=None)
        return mark_safe(drawn)  # noqa: S308  (segno draws it; the text is only encoded)


def _sheet(title: str, labels: list[Label], at: datetime, *, small: bool = False) -> Page:
    context = {"plant_name": Plant.objects.get().name, "labels": labels, "small": small}
    record = {
        "labels": [{"code": one.code, "title": one.title, "lines": list(one.lines)} for one in labels],
        "as_of": at,
    }
    return Page(title, LABELS, context, record, at)


@report("reel-labels")
def reel_labels(subject_id: str, at: datetime) -> Page:
    """A label for each reel of a lot that is not empty."""
    lot = lot_by_pk(number_in(subject_id))
    reels = reels_now(Reel.objects.filter(lot=lot).select_related("lot__stock").order_by("label"))
    use_by = f"use by {lot.use_by:%d %b %Y}" if lot.use_by else "use by: not recorded"
    lines = (f"lot {lot.code}", use_by, "rooms: " + ", ".join(lot.stock.room_kinds))
    labels = [Label(now.reel.label, f"{lot.stock.code} {lot.stock.name}", lines) for now in reels if now.left_m > 0]
    if not labels:
        raise NotFound("reel with tape of lot", lot.code, "An empty reel needs no label.")
    return _sheet(f"Reel labels of lot {lot.code}", labels, at)


@report("bag-label")
def bag_label(subject_id: str, at: datetime) -> Page:
    """The label of a counted bag, with room to write the count by hand."""
    bag = bag_by_label(subject_id)
    opened = f"opened {bag.opened_at.astimezone(plant_zone()):%d %b %Y %H:%M}"
    counted = f"{bag.counted} pieces" if bag.closed_at else "pieces: ______"
    seals = () if bag.closed_at else ("name, time: ______________",)
    label = Label(bag.label, "Removed tape, counted", (f"room {bag.room.code}", opened, counted, *seals))
    return _sheet(f"Label of bag {bag.label}", [label], at)


@report("knife-tags")
def knife_tags(subject_id: str, at: datetime) -> Page:
    """A tag for each knife in use, or for one."""
    knives = Knife.objects.filter(retired_at=None)
    if subject_id != "all":
        knives = knives.filter(number__iexact=subject_id)
    where = {True: "snap-off: general rooms only", False: "fixed blade"}
    labels = [Label(knife.number, "Knife", (where[knife.snap_off], "count out, count in")) for knife in knives]
    if not labels:
        raise NotFound("knife in use", subject_id, "Enter the knife first.")
    return _sheet("Knife tags", labels, at, small=True)


@report("reconciliation")
def reconciliation(subject_id: str, at: datetime) -> Page:
    """A count beside the ledger of its moment, and how a difference was closed."""
    made = count_by_pk(number_in(subject_id))
    compared = [
        Compared(CountRow(key, label, kind, expected), made.counted.get(key, 0))
        for key, (label, kind, expected) in made.expected.items()
    ]
    answer = made.answered_by.select_related("by").first()
    plant = Plant.objects.get()
    context = {
        "plant_name": plant.name,
        "time_zone": plant.time_zone,
        "made": made,
        "rows": [
            [one.row.label, f"{one.row.expected:g}", f"{one.counted:g}", "differs" if one.differs else "right"]
            for one in compared
        ],
        "columns": ["What", ("By the ledger", "num"), ("Counted", "num"), "Result"],
        "hints": hints(made),
        "answer": answer,
    }
    record: dict[str, Any] = {
        "count": made.label,
        "at": made.at,
        "by": made.by.staff_no,
        "expected": {key: str(value[2]) for key, value in made.expected.items()},
        "counted": {key: str(value) for key, value in made.counted.items()},
        "differs": made.differs,
        "noticed": made.cause,
        "closed": {"at": answer.at, "by": answer.by.staff_no, "cause": answer.cause} if answer else None,
        "as_of": at,
    }
    return Page(f"Count of {made.label}", "rollers/reports/store/reconciliation.html", context, record, at)


@report("recall")
def recall(subject_id: str, at: datetime) -> Page:
    """Everything a lot touched: live and past tapings, runs, every roll by number, reels."""
    lot = lot_by_pk(number_in(subject_id))
    found = recall_of(lot, at)
    plant = Plant.objects.get()
    context = {
        "plant_name": plant.name,
        "time_zone": plant.time_zone,
        "lot": lot,
        "recall": found,
        "recalled": lot.status == Lot.Status.RECALLED,
        "status": "" if lot.status == Lot.Status.RECALLED else "NOT RECALLED: WHAT IT TOUCHED",
    }
    word = "Recall of" if lot.status == Lot.Status.RECALLED else "What was touched by"
    title = f"{word} lot {lot.code} of {lot.stock.code}"
    return Page(title, "rollers/reports/store/recall.html", context, _record(found), at)


def _record(found: Recall) -> dict[str, Any]:
    act = found.act
    return {
        "lot": found.lot.code,
        "stock": found.lot.stock.code,
        "contaminating": found.lot.contaminating,
        "recalled": {"at": act.at, "by": act.by.staff_no if act.by else "", "reason": act.reason} if act else None,
        "counts": found.counts,
        "tapings": [_taping(one) for one in found.tapings],
        "reels_left": {now.reel.label: [f"{now.left_m:.3f}", now.place] for now in found.reels_left},
        "as_of": found.at,
    }


def _taping(one: TapingOfLot) -> dict[str, Any]:
    return {
        "position": one.application.position.code,
        "taping": one.application.pk,
        "room_kind": one.room_kind,
        "since": one.since,
        "until": one.until,
        "pieces": one.pieces,
        "on_now": one.on_now,
        "missing": one.missing,
        "reels": list(one.reels),
        "runs": [
            {
                "run": each.run.pk,
                "product": each.run.product_version.product.code,
                "since": each.since,
                "until": each.until,
                "metres": f"{each.metres:.1f}",
                "rolls": [roll.label for roll in each.recorded],
                "stretches": {roll.label: f"{roll.length_m:.1f}" for roll in each.stretches},
            }
            for each in one.passed
        ],
    }
