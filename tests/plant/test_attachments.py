"""Photographs: kept under their digest, told by what is inside, never by their name."""

import hashlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.urls import reverse

from plant.audit.models import Attachment, Event
from plant.audit.services import attaching, file_of, keep_photo
from plant.errors import Refused
from tests import make

pytestmark = pytest.mark.django_db


def test_a_photo_is_kept_under_its_digest_and_told_in_the_trail(cast):
    kept = keep_photo(make.photo(), by=cast.ines, at=make.AT, purpose="tail of A05")
    assert hashlib.sha256(file_of(kept).read_bytes()).hexdigest() == kept.digest
    assert kept.media_type == "image/png"
    assert kept.digest in Event.objects.get(stream="attachments").body


def test_the_same_picture_sent_twice_is_one_file_and_two_records(cast):
    first = keep_photo(make.photo(), by=cast.ines, at=make.AT)
    second = keep_photo(make.photo("again.png"), by=cast.ines, at=make.AT)
    assert file_of(first) == file_of(second) and first.pk != second.pk


@pytest.mark.parametrize(
    ("content", "code"),
    [(b"", "empty"), (b"<svg onload='x'/>", "not-a-picture"), (b"\x89PNG\r\n\x1a\n" + b"0" * 40, "not-a-picture")],
)
def test_what_is_no_picture_is_refused_whatever_its_name(cast, content, code):
    with pytest.raises(Refused) as refusal:
        keep_photo(SimpleUploadedFile("tail.png", content, "image/png"), by=cast.ines, at=make.AT)
    assert refusal.value.code == code and refusal.value.field == "photo"


def test_a_picture_above_ten_megabytes_is_refused(cast, monkeypatch):
    monkeypatch.setattr(attaching, "MOST_BYTES", 10)
    with pytest.raises(Refused, match="Take it with less detail"):
        keep_photo(make.photo(), by=cast.ines, at=make.AT)


@pytest.mark.db_both
def test_an_attachment_never_changes(cast):
    kept = keep_photo(make.photo(), by=cast.ines, at=make.AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        Attachment.objects.filter(pk=kept.pk).update(digest="0" * 64)


def test_a_photo_is_shown_as_what_it_is(cast, signed_in):
    kept = keep_photo(make.photo(), by=cast.ines, at=make.AT)
    answer = signed_in(cast.ines).get(reverse("reports:photo", args=[kept.pk]))
    assert answer["Content-Type"] == "image/png" and answer["X-Content-Type-Options"] == "nosniff"
    assert b"".join(answer.streaming_content) == file_of(kept).read_bytes()
    assert signed_in(cast.ines).get(reverse("reports:photo", args=[999])).status_code == 404
