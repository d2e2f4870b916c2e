"""Notes by e-mail, where the plant has given a mail server and the person an address."""

import logging
from datetime import datetime, timedelta
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import send_mail

from training.models import Note

log = logging.getLogger(__name__)
# What could not be sent for so long is old news; it stands on the person's page.
KEEP_TRYING = timedelta(days=2)


def mail_notes(at: datetime) -> dict[str, int]:
    """Send what was not sent yet. A server that does not answer is tried again next time; the note stands anyway."""
    if not settings.EMAIL_HOST:
        return {"sent": 0, "failed": 0}
    sent = failed = 0
    waiting = Note.objects.filter(mailed_at=None, at__gte=at - KEEP_TRYING).exclude(to__email="")
    for note in waiting.select_related("to").order_by("pk"):
        # Claimed first: two clocks at once send it once, and a crash loses an e-mail rather than doubling it.
        if not Note.objects.filter(pk=note.pk, mailed_at=None).update(mailed_at=at):
            continue
        try:
            send_mail(_subject(note), _body(note), None, [note.to.email])
            sent += 1
        except (SMTPException, OSError) as trouble:
            log.warning("note %s could not be sent: %s", note.pk, trouble)
            Note.objects.filter(pk=note.pk).update(mailed_at=None)
            failed += 1
    return {"sent": sent, "failed": failed}


def _subject(note: Note) -> str:
    """No line break may get into a header, whatever a reason holds."""
    return " ".join(note.sentence.split())[:78]


def _body(note: Note) -> str:
    where = f"\n\n{settings.BASE_URL.rstrip('/')}{note.address}" if note.address else ""
    return f"{note.sentence}{where}\n"
