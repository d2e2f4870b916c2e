"""What stands on the card of a certificate, and what its check page tells: valid or not, and no more."""

from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from plant.errors import NotFound
from training.models import CertificateCard
from training.queries import register

TOKEN_LENGTH = 43


@dataclass(frozen=True)
class Checked:
    """The answer to whoever scans the card."""

    valid: bool
    skill: str
    initials: str
    at: datetime


def check_address(token: str) -> str:
    """The full address in the QR code."""
    return settings.BASE_URL.rstrip("/") + reverse("training:check", args=[token])


def qr_svg(text: str) -> SafeString:
    """ISO/IEC 18004, error level Q, with the quiet zone of four modules; sized by the page, at least 20 mm."""
    page = BytesIO()
    segno.make_qr(text, error="q").save(page, kind="svg", border=4, xmldecl=False, svgns=True, omitsize=True, nl=False)
    return mark_safe(page.getvalue().decode())  # noqa: S308  (drawn by segno from our own address)


def initials_of(name: str) -> str:
    """The first letter of each part of a name."""
    letters = [next((sign for sign in part if sign.isalpha()), "") for part in name.split()]
    return " ".join(f"{letter.upper()}." for letter in letters if letter)


def check_card(token: str, at: datetime) -> Checked:
    """Is the skill of this card valid now? The newest certificate of the skill decides, and what it is built on.

    Says nothing of days, reasons, scores or history: test results and the rest are not for everybody.
    """
    card = None
    if 0 < len(token) <= TOKEN_LENGTH:
        found = CertificateCard.objects.select_related("certificate__person", "certificate__skill")
        card = found.filter(token=token).first()
    if card is None:
        raise NotFound("card", "this address", "Look at the number on the card, and ask the plant's trainer.")
    certificate = card.certificate
    book = register([certificate.person], at)
    valid = book.allows(certificate.person, certificate.skill.code)
    return Checked(valid, certificate.skill.name, initials_of(certificate.person.name), at)
