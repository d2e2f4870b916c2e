"""The printed release: a PDF/A-3b with the record inside, the same bytes each time."""

import io
import json

import pikepdf
import pytest
from django.urls import reverse

from plant.jobs.models import Job
from plant.jobs.running import run_one
from plant.reports.engine import pdf_of
from plant.reports.registry import builder_of
from rollers.services.runs import plan_run, release_run
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]


@pytest.fixture
def released(cast):
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    make.position("A05", path=path, room=room)
    version = make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    run = plan_run(
        path=path,
        version=version,
        tension_n_per_m=50,
        speed_m_per_min=280,
        starts_at=make.AT,
        by=cast.hanna,
        at=make.AT,
    )
    release_run(run, confirmation=make.confirmation(cast.hanna))
    return run


def test_a_release_is_printed_by_a_job_and_fetched_by_who_asked(signed_in, cast, released, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(cast.hanna)
    answer = client.post(reverse("reports:ask", args=["release-record", released.pk]), follow=True)
    assert "being made" in answer.content.decode()
    job = Job.objects.get(work="make report")
    assert run_one(job.pk, make.AT)
    assert run_one(job.pk, make.AT) is False
    page = client.get(answer.redirect_chain[0][0]).content.decode()
    assert "The PDF is ready" in page
    pk = job.arguments["report_id"]
    content = b"".join(client.get(reverse("reports:fetch", args=[pk])).streaming_content)
    assert content.startswith(b"%PDF")
    assert signed_in(cast.ines).get(reverse("reports:show", args=[pk])).status_code == 403


def test_the_pdf_carries_the_record_and_says_it_is_pdf_a_3b(released):
    """ISO 19005-3 asks for an AF entry and a relationship for each embedded file; no validator is at hand here."""
    page = builder_of("release-record")(str(released.pk), make.AT)
    with pikepdf.open(io.BytesIO(pdf_of(page))) as pdf:
        attached = json.loads(pdf.attachments["record.json"].get_file().read_bytes())
        assert attached["release"]["run"] == released.pk
        assert attached["signature"]["printed_name"] == "Hanna Lindqvist"
        assert pdf.Root.AF[0].AFRelationship == "/Source"
        assert pdf.open_metadata()["pdfaid:part"] == "3"
        assert pdf.open_metadata()["pdfaid:conformance"] == "B"


def test_the_same_record_gives_the_same_bytes(released):
    page = builder_of("release-record")(str(released.pk), make.AT)
    assert pdf_of(page) == pdf_of(page)


def test_only_a_released_run_has_a_release_record(signed_in, cast, released):
    answer = signed_in(cast.hanna).post(reverse("reports:ask", args=["release-record", "9999"]))
    assert answer.status_code == 404
    assert "Only a released run" in answer.content.decode()
