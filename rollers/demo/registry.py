"""Roller bodies, gauges, what was measured, and the go-live survey of each room."""

from plant.audit.services import Confirmation
from plant.people.models import Person
from rollers.demo.acts import signed
from rollers.demo.week import Week
from rollers.demo.works import FACES_MM, LINES, ROUGHNESS_UM, Works, roller_figures
from rollers.models import Body, Gauge
from rollers.services.bodies import enter_body, record_measurement
from rollers.services.gauges import enter_gauge, record_calibration
from rollers.services.mountings import mount
from rollers.services.surveys import close_survey, record_seen, start_survey

DAY = -20
# Code, name, days ago it was calibrated, days it is good for, expanded uncertainty and its unit.
GAUGES = (
    ("PI-1", "Pi tape 300 to 1000 mm", 90, 365, 0.02, "mm"),
    ("LV-1", "Roller level", 120, 365, 0.02, "mm/m"),
    ("TH-1", "Thickness gauge", 60, 365, 0.002, "mm"),
    ("RQ-1", "Roughness tester", 400, 365, 0.5, "µm"),  # past its date: what it measures is flagged
)
# Two spare rollers: a body is not a position.
SPARES = (("TH-391", 200.0, "B"), ("TH-392", 150.0, "C"))
# Rollers of which the alignment was measured at the start, mm per m.
ALIGNMENT = {"A03": 0.08, "B04": 0.06, "B09": 0.05, "B13": 0.12, "C06": 0.04, "C09": 0.07, "D04": 0.03}
SURVEYORS = {"A": "ines", "B": "tomas", "C": "mei", "D": "rui"}


def enter_gauges(people: dict[str, Person], week: Week) -> dict[str, Gauge]:
    """The gauge register; one gauge is past its calibration date."""
    at, by, gauges = week.at(DAY, "07:00"), people["kwame"], {}
    for number, (code, name, ago, good_for, uncertainty, unit) in enumerate(GAUGES, start=1):
        gauges[code] = enter_gauge(code=code, name=name, by=by, at=at)
        record_calibration(
            gauges[code],
            certificate=f"TH-CAL-{number:03d}",
            done_on=week.day(DAY - ago),
            due_on=week.day(DAY - ago + good_for),
            uncertainty=uncertainty,
            unit=unit,
            by=by,
            at=at,
        )
    return gauges


def _enter(serial: str, diameter: float, line: str, gauge: Gauge, by: Person, week: Week) -> Body:
    body = enter_body(
        serial=serial,
        face_mm=FACES_MM[line],
        roughness_um=ROUGHNESS_UM[line],
        drawing_diameter_mm=diameter,
        material="steel, ground" if line in "AB" else "aluminium, anodised",
        drive_end_mark="one punch mark on the journal",
        by=by,
        at=week.at(DAY, "08:00"),
    )
    record_measurement(quantity="diameter_mm", value=diameter, body=body, gauge=gauge, by=by, at=week.at(DAY, "09:00"))
    return body


def mount_rollers(works: Works, people: dict[str, Person], week: Week) -> dict[str, Gauge]:
    """Every position holds a body with a measured diameter; two bodies are spare."""
    by, gauges, number = people["kwame"], enter_gauges(people, week), 0
    for line, *_ in LINES:
        for code, diameter, *_ in roller_figures(line):
            number += 1
            body = _enter(f"TH-{300 + number}", diameter, line, gauges["PI-1"], by, week)
            mount(body, works.positions[code], by=by, at=week.at(DAY, "10:00"))
    for serial, diameter, line in SPARES:
        _enter(serial, diameter, line, gauges["PI-1"], by, week)
    for code, tilt in ALIGNMENT.items():
        record_measurement(
            quantity="misalignment_mm_per_m",
            value=tilt,
            position=works.positions[code],
            gauge=gauges["LV-1"],
            by=by,
            at=week.at(DAY, "12:00"),
        )
    return gauges


def survey_rooms(works: Works, people: dict[str, Person], week: Week) -> None:
    """On the day records begin every roller is looked at and found bare; QA closes each room."""
    for line, _, room, _ in LINES:
        survey = start_survey(works.rooms[room], by=people["hanna"], at=week.at(DAY, "13:00"))
        looker = people[SURVEYORS[line]]
        for code, *_ in roller_figures(line):
            record_seen(survey, works.positions[code], state="bare", by=looker, at=week.at(DAY, "14:00"))
        closing: Confirmation = signed(people["yuki"], week.at(DAY, "15:00"))
        close_survey(survey, confirmation=closing)
