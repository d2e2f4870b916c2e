"""Builders: the rows of an invented plant, without ceremony. Acts under test go through the services."""

import io
from datetime import UTC, date, datetime
from itertools import count
from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from plant.audit.services import Confirmation
from plant.floor.models import (
    Line,
    PathStep,
    Plant,
    Position,
    Product,
    ProductVersion,
    Room,
    RoomClass,
    Shift,
    WebPath,
)
from plant.people.models import Person, RoleGrant
from plant.people.queries import role_words, roles_of
from rollers.models import Body, Lot, Mounting, Reel, ReelMove, TapeFact, TapeStock
from training.models import Certificate, Skill

LONG_AGO = datetime(2024, 1, 1, tzinfo=UTC)
AT = datetime(2026, 3, 25, 9, 0, tzinfo=UTC)  # a Wednesday, early shift in Vienna
SECRET = "only this person knows it"
_numbers = count(1)


def plant(**fields: Any) -> Plant:
    defaults = {"code": "TH", "name": "Tarn Hollow Works", "time_zone": "Europe/Vienna"}
    return Plant.objects.first() or Plant.objects.create(**defaults | fields)


def room(code: str = "G1", kind: str = "general") -> Room:
    found, made = Room.objects.get_or_create(code=code, defaults={"name": f"Room {code}"})
    if made:
        RoomClass.objects.create(room=found, kind=kind, valid_from=LONG_AGO)
    return found


def line(code: str = "A", **fields: Any) -> Line:
    return Line.objects.get_or_create(code=code, defaults={"name": f"Line {code}"} | fields)[0]


def web_path(of: Line, name: str = "straight") -> WebPath:
    return WebPath.objects.get_or_create(line=of, name=name)[0]


def person(name: str, *roles: str, skills: str = "", until: date = date(2026, 12, 31), **fields: Any) -> Person:
    """A person with roles and certificates, e.g. skills="aware apply food"."""
    defaults: dict[str, Any] = {
        "staff_no": f"T{next(_numbers):04d}",
        "active_from": LONG_AGO,
        "password": make_password(SECRET),
        "must_choose_secret": False,
    }
    made = Person.objects.create(name=name, **defaults | fields)
    RoleGrant.objects.bulk_create(RoleGrant(person=made, role=role, granted_at=LONG_AGO) for role in roles)
    for skill in skills.split():
        certificate(made, skill, until=until)
    return made


def certificate(
    of: Person, skill: str, *, since: date = date(2024, 1, 1), until: date = date(2026, 12, 31)
) -> Certificate:
    return Certificate.objects.create(
        person=of,
        skill=Skill.objects.get(code=skill),
        number=f"C-{next(_numbers):05d}",
        valid_from=since,
        valid_to=until,
        founding=True,
        evidence="builder",
        issued_at=LONG_AGO,
    )


def confirmation(of: Person, at: datetime = AT) -> Confirmation:
    """As if the person had just typed the own secret."""
    return Confirmation(of, role_words(roles_of(of, at)), at, "password", "Europe/Vienna")


def shift(*crew: Person, name: str = "Early", starts: datetime | None = None, ends: datetime | None = None) -> Shift:
    starts = starts or AT.replace(hour=5)
    made = Shift.objects.create(
        date=starts.date(), name=name, starts_at=starts, ends_at=ends or starts.replace(hour=13)
    )
    made.crew.set(crew)
    return made


def position(
    code: str,
    *,
    path: WebPath,
    room: Room,
    diameter_mm: float = 120,
    wrap_deg: float = 120,
    entry_span_mm: float = 1400,
    face_mm: float = 1800,
    roughness_um: float = 40,
    kind: str = "idler",
    rotation: str = "cw",
    bare: bool = True,
) -> Position:
    """A position with its path step and a mounted body; bare on record unless told otherwise."""
    order = path.line.positions.count() + 1
    made = Position.objects.create(line=path.line, room=room, code=code, order=order, kind=kind)
    PathStep.objects.create(
        path=path,
        order=order,
        position=made,
        wrap_deg=wrap_deg,
        rotation=rotation,
        web_side="A",
        entry_span_mm=entry_span_mm,
    )
    mount(
        body(f"R-{code}", diameter_mm=diameter_mm, face_mm=face_mm, roughness_um=roughness_um),
        made,
        bare=bare,
    )
    return made


def body(serial: str, *, diameter_mm: float = 120, face_mm: float = 1800, roughness_um: float = 40) -> Body:
    return Body.objects.create(
        serial=serial,
        diameter_mm=diameter_mm,
        diameter_measured=True,
        face_mm=face_mm,
        roughness_um=roughness_um,
    )


def mount(what: Body, where: Position, *, bare: bool = True, by: Person | None = None) -> Mounting:
    what.whereabouts = Body.Whereabouts.MOUNTED
    what.save()
    made = Mounting.objects.create(body=what, position=where, mounted_at=LONG_AGO)
    if bare:
        TapeFact.objects.create(
            body=what,
            position=where,
            kind=TapeFact.Kind.SURVEYED,
            at=LONG_AGO,
            recorded_at=LONG_AGO,
            by=by or Person.objects.first() or person("Builder"),
            state="bare",
        )
    return made


def product(
    code: str,
    *lines: Line,
    width: float,
    thickness: float,
    modulus: float,
    tension: float,
    speed: float,
    friction: float,
    **fields: Any,
) -> ProductVersion:
    """A product with one version; tension, speed and width are points unless min/max are given in `fields`."""
    made = Product.objects.create(code=code, name=code)
    made.lines.set(lines)
    defaults: dict[str, Any] = {
        "number": 1,
        "modulus_md_mpa": modulus,
        "modulus_direction": "MD",
        "modulus_on": date(2026, 1, 15),
        "thickness_um": thickness,
        "width_min_mm": width,
        "width_max_mm": width,
        "tension_min_n_per_m": tension,
        "tension_set_n_per_m": tension,
        "tension_max_n_per_m": tension,
        "speed_min_m_per_min": speed,
        "speed_set_m_per_min": speed,
        "speed_max_m_per_min": speed,
        "friction": friction,
        "entered_at": LONG_AGO,
    }
    return ProductVersion.objects.create(product=made, **defaults | fields)


STOCKS: dict[str, dict[str, Any]] = {
    "T1": {
        "thickness_mm": 0.14,
        "width_mm": 48,
        "roughness_um": 25,
        "max_temp_c": 80,
        "room_kinds": ["general"],
    },
    "T3": {
        "thickness_mm": 0.055,
        "width_mm": 50,
        "roughness_um": 4,
        "room_kinds": ["general", "food", "medical"],
        "contact_statement": "letter 7",
        "contact_statement_ends": date(2026, 12, 31),
    },
    "T5": {
        "thickness_mm": 0.09,
        "width_mm": 50,
        "roughness_um": 20,
        "max_temp_c": 150,
        "room_kinds": ["general", "food", "medical"],
        "contact_statement": "letter 7",
        "contact_statement_ends": date(2026, 12, 31),
    },
}


def stock(code: str, **fields: Any) -> TapeStock:
    defaults = {"name": f"tape {code}", **STOCKS.get(code, {})}
    return TapeStock.objects.filter(code=code).first() or TapeStock.objects.create(code=code, **defaults | fields)


def reel(of: TapeStock, where: Room, *, length_m: float = 500, label: str = "", by: Person | None = None) -> Reel:
    """A reel of a released lot, issued into a room."""
    by = by or Person.objects.first() or person("Builder")
    lot = Lot.objects.filter(stock=of, code="2602-A").first() or Lot.objects.create(
        stock=of, code="2602-A", received_at=LONG_AGO, received_by=by, status=Lot.Status.RELEASED
    )
    made = Reel.objects.create(lot=lot, label=label or f"R-T{next(_numbers):05d}", length_m=length_m)
    for kind, room_then in ((ReelMove.Kind.RECEIVED, None), (ReelMove.Kind.ISSUED, where)):
        ReelMove.objects.create(
            reel=made, kind=kind, length_m=length_m, room=room_then, at=LONG_AGO, recorded_at=LONG_AGO, by=by
        )
    return made


def photo(name: str = "tail.png", colour: str = "white") -> SimpleUploadedFile:
    """A photograph as a tablet sends it."""
    out = io.BytesIO()
    Image.new("RGB", (8, 6), colour).save(out, "PNG")
    return SimpleUploadedFile(name, out.getvalue(), "image/png")
