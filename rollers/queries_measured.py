"""How sure the measured figures of a roller and its tape are, by the calibration of the gauge used."""

from django.db.models import QuerySet

from calcs import units
from rollers.how_sure import Measured
from rollers.models import Body, Calibration, Measurement, TapeStock


def _newest(rows: QuerySet[Measurement], quantity: str, part: str, key: str) -> Measured | None:
    """The newest value taken with a gauge, with the uncertainty of its calibration at that time."""
    row = rows.filter(quantity=quantity, gauge__isnull=False).select_related("gauge").order_by("-at", "-pk").first()
    if row is None:
        return None
    known = Calibration.objects.filter(gauge=row.gauge, done_on__lte=row.at.date()).order_by("-done_on", "-pk").first()
    if known is None:
        return None
    try:
        expanded = units.from_si(units.to_si(str(known.uncertainty), known.unit, "length"), "mm", "length")
    except units.UnitError:  # a certificate in a unit of another quantity says nothing about a length
        return None
    return Measured(part, key, float(expanded), str(row.gauge))


def measured_of(body: Body, stock: TapeStock | None) -> tuple[Measured, ...]:
    """Expanded uncertainties of the diameter and of the tape, where a calibrated gauge stands behind them."""
    found = [_newest(body.measurements.all(), Measurement.Quantity.DIAMETER, "roller", "diameter_mm")]
    if stock is not None:
        rows = stock.measurements.all()
        found.append(_newest(rows, Measurement.Quantity.TAPE_THICKNESS, "tape", "thickness_mm"))
    return tuple(row for row in found if row is not None)
