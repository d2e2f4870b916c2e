"""Keeping a photograph that proves something."""

import hashlib
import io
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from PIL import Image, UnidentifiedImageError

from plant.audit.models import Attachment
from plant.audit.services.recording import record
from plant.errors import Refused

MOST_BYTES = 10 * 1024 * 1024
PICTURES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


def file_of(attachment: Attachment) -> Path:
    """Where the bytes lie."""
    return Path(settings.MEDIA_ROOT) / "attachments" / attachment.digest


def _type_of(content: bytes) -> str:
    """The type by what is inside, never by the name."""
    try:
        with Image.open(io.BytesIO(content)) as picture:
            picture.verify()
            kind = PICTURES.get(picture.format or "")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        kind = None
    if kind is None:
        sentence = "This file is no photograph that can be shown (JPEG, PNG or WebP). Take the picture again."
        raise Refused("not-a-picture", sentence, field="photo")
    return kind


@transaction.atomic
def keep_photo(upload: UploadedFile, *, by: Any, at: datetime, purpose: str = "") -> Attachment:
    """Store a photograph under its digest. The same picture sent twice is the same file.

    Raises
    ------
    Refused
        Empty, larger than 10 MB, or not a picture.
    """
    if not upload.size:
        raise Refused("empty", "The photograph is empty. Take it again.", field="photo")
    if upload.size > MOST_BYTES:
        sentence = f"The photograph has {upload.size / 1e6:.1f} MB; 10 MB are the most. Take it with less detail."
        raise Refused("too-big", sentence, field="photo")
    content = upload.read()
    kind = _type_of(content)
    digest = hashlib.sha256(content).hexdigest()
    kept = Attachment.objects.create(
        digest=digest,
        media_type=kind,
        size=len(content),
        name=Path(upload.name or "").name[:120],
        at=at,
        by=by,
        purpose=purpose[:120],
    )
    target = file_of(kept)
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh = target.with_suffix(f".{kept.pk}.new")
        fresh.write_bytes(content)
        fresh.replace(target)
    record(
        stream="attachments",
        action="attach",
        subject=kept,
        sentence=f"{by.name} attached a photograph: {purpose or kept.name}",
        by=by,
        at=at,
        facts={"digest": digest, "size": kept.size, "type": kind, "name": kept.name, "purpose": kept.purpose},
    )
    return kept
