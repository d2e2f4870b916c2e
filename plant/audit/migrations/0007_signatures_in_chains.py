"""Signatures that were given before each went into a chain of its signer are entered there, and said to be so."""

from django.conf import settings
from django.db import migrations
from django.utils import timezone

from plant.audit.canonical import ZERO, canonical, chained
from plant.audit.services.signing import sealed, stream_of


def adopt(apps, editor):
    Event, Head = apps.get_model("audit", "Event"), apps.get_model("audit", "StreamHead")
    at = timezone.now()
    for signature in apps.get_model("audit", "Signature").objects.select_related("person").order_by("pk"):
        stream = stream_of(signature.person.staff_no)
        head, _ = Head.objects.get_or_create(stream=stream, defaults={"hash": ZERO})
        told = {
            "action": "adopt-signature",
            "sentence": f"earlier signature of {signature.printed_name} entered in the chain: {signature.meaning}",
            "reason": "signatures were not in a chain of their signers before this version",
        }
        subject = [signature.subject_type, signature.subject_id]
        facts = sealed(signature, signature.person.staff_no)
        place = {"stream": stream, "seq": head.seq + 1, "at": at}
        body = canonical({**place, "actor": None, "subject": subject, "facts": facts, **told})
        link = chained(head.hash, body)
        Event.objects.create(
            **place,
            **told,
            subject_type=subject[0],
            subject_id=subject[1],
            body=body.decode(),
            previous_hash=head.hash,
            hash=link,
        )
        head.seq, head.hash = head.seq + 1, link
        head.save(update_fields=["seq", "hash"])


class Migration(migrations.Migration):
    dependencies = [
        ("audit", "0006_daily_roots"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [migrations.RunPython(adopt, migrations.RunPython.noop)]
