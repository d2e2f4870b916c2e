"""Two persons act at the same moment on the certificates of one person."""

import threading
from datetime import date

import pytest
from django.db import connection

from plant.audit.models import Event
from plant.errors import Refused
from tests import make
from training.models import Certificate, CertificateAct
from training.services import issue_certificate, suspend

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.db_both]


def together(*acts) -> list[object]:
    """Run the acts in threads that start at one moment; give back results or refusals."""
    gate, outcomes = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place: int, act) -> None:
        gate.wait(timeout=20)
        try:
            outcomes[place] = act()
        except Refused as refusal:
            outcomes[place] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def test_two_issuers_at_once_get_two_numbers_and_lose_nothing(cast) -> None:
    make.plant()
    nils = make.person("Nils Ferro", "operator", skills="aware")
    common = {"valid_from": date(2026, 3, 25), "evidence": "test sheet 14"}
    confirmations = [make.confirmation(cast.greta), make.confirmation(cast.dara)]
    outcomes = together(
        *(
            lambda skill=skill, signed=signed: issue_certificate(nils, skill, confirmation=signed, **common)
            for skill, signed in zip(("apply", "size"), confirmations, strict=True)
        )
    )
    assert all(isinstance(outcome, Certificate) for outcome in outcomes), outcomes
    assert len({outcome.number for outcome in outcomes}) == 2
    assert Event.objects.filter(action="issue-certificate").count() == 2


def test_two_who_suspend_at_once_write_one_suspension_and_the_second_is_told(cast) -> None:
    make.plant()
    certificate = cast.ines.certificates.get(skill__code="apply")
    hanna, yuki = cast.hanna, cast.yuki
    outcomes = together(
        lambda: suspend(certificate, reason="two failed checks", by=hanna, at=make.AT),
        lambda: suspend(certificate, reason="gowning breach", by=yuki, at=make.AT),
    )
    refused = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
    assert [refusal.code for refusal in refused] == ["nothing-to-suspend"]
    assert CertificateAct.objects.count() == 1
