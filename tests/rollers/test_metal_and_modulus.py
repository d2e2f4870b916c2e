"""A recipe turned into metal with the reasons not to cut, and a modulus from pulled strips."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from plant.floor.models import ProductVersion
from plant.web import clock
from rollers.metal import Proof, lathe_picture
from rollers.models import RecipeVersion, TapeFact
from rollers.strips import bad_rows, strips_of
from tests import make
from tests.rollers.desk import Coating, coating, on_record

pytestmark = pytest.mark.django_db
HEAD = """# direction: {direction}
# temperature_c: 23
# date: 2026-03-10
# gauge_length_mm: 100
# width_mm: 15
# thickness_um: 35
extension_mm,force_n
"""


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    return coating(cast)


def stood(version: RecipeVersion, *, days: int, applied: int) -> None:
    """In force for so long and put on so often, by the record."""
    RecipeVersion.objects.filter(pk=version.pk).update(in_force_at=make.AT - timedelta(days=days))
    position = version.recipe.position
    body = position.mountings.get(removed_at=None).body
    for kind in [TapeFact.Kind.APPLIED] * applied + [TapeFact.Kind.MEASURED]:
        TapeFact.objects.create(
            body=body,
            position=position,
            kind=kind,
            at=make.AT,
            recorded_at=make.AT,
            by=version.author,
            state="taped",
            recipe_version=version,
        )


def curve(stiff_mpa: float = 1850, *, direction: str = "MD", most: float = 0.6) -> str:
    """A straight curve of a 15 mm strip of 35 µm film over 100 mm."""
    steps = [most * number / 10 for number in range(11)]
    rows = "".join(f"{x:.3f},{stiff_mpa * 0.015 * 35 * x / 100:.5f}\n" for x in steps)
    return HEAD.format(direction=direction) + rows


def sent(*texts: str) -> list[SimpleUploadedFile]:
    return [SimpleUploadedFile(f"strip {n}.csv", text.encode(), "text/csv") for n, text in enumerate(texts, 1)]


def look(client: Any, *texts: str, direction: str = "MD") -> Any:
    url = reverse("rollers:modulus", args=["BO-35"])
    return client.post(url, {"strips": sent(*texts), "direction": direction})


def test_a_young_recipe_says_what_the_record_lacks(line_b, signed_in) -> None:
    line_b.paper.product.lines.clear()
    version = line_b.in_force()
    page = signed_in(line_b.cast.dara).get(reverse("rollers:metal", args=[version.pk]))
    text = page.content.decode()
    assert "in force for 0 days; at least 90" in text and "never re-applied" in text
    assert "no measured build" in text and page.context["plate"] == "caution"


def test_a_recipe_that_has_stood_ninety_days_gets_its_profile(line_b, signed_in) -> None:
    line_b.paper.product.lines.clear()
    version = line_b.in_force()
    stood(version, days=91, applied=4)
    page = signed_in(line_b.cast.dara).get(reverse("rollers:metal", args=[version.pk]))
    assert page.context["against"] == [] and page.context["plate"] == page.context["found"].cut.verdict
    assert {row["cut"].shape for row in page.context["shapes"]} == {"arc", "bow-tie", "dog-bone"}


@pytest.mark.parametrize(
    ("days", "applied", "measured", "in_force", "count"),
    [
        (90, 4, 1, True, 0),
        (89, 4, 1, True, 1),
        (90, 3, 1, True, 1),
        (90, 4, 0, True, 1),
        (90, 4, 1, False, 1),
        (0, 0, 0, True, 3),
    ],
)
def test_each_thing_that_is_not_proven_is_a_reason_of_its_own(days, applied, measured, in_force, count) -> None:
    proof = Proof(make.AT - timedelta(days=days), in_force, applied, measured, make.AT)
    assert len(proof.reasons) == count and all(reason.startswith("Not yet") for reason in proof.reasons)


def test_products_of_very_different_strain_forbid_the_cut_and_the_table_says_so_too(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.dara)
    page = client.get(reverse("rollers:metal", args=[version.pk]))
    assert page.context["plate"] == "refused" and "CP-70" in page.content.decode()
    table = client.get(reverse("rollers:lathe", args=[version.pk]), {"shape": "arc"})
    text = table.content.decode()
    assert text.startswith("# Do not cut") and "# Not yet" in text
    assert "place_mm,diameter_mm,least_mm,largest_mm" in text and "arc" in table["Content-Disposition"]


def test_the_drawn_tape_stands_on_the_face_as_high_as_its_layers(line_b, signed_in) -> None:
    version = line_b.in_force()
    found = signed_in(line_b.cast.dara).get(reverse("rollers:metal", args=[version.pk])).context["found"]
    picture = lathe_picture("B09", found.metal, found.cut)
    assert max(height for _, height in picture.tape) == pytest.approx(90)
    assert {round(place) for place, height in picture.tape if height > 0} == {-840, -640, 640, 840}
    assert [place for place, _ in picture.tape] == sorted(place for place, _ in picture.tape)


def test_one_end_tape_and_an_unknown_shape_are_refused_in_words(line_b, signed_in) -> None:
    client, one = signed_in(line_b.cast.dara), line_b.one_end()
    assert "one-end tape steers" in client.get(reverse("rollers:metal", args=[one.pk])).content.decode()
    both = line_b.in_force()
    text = client.get(reverse("rollers:metal", args=[both.pk]), {"shape": "spiral"}).content.decode()
    assert "spiral" in text and "No profile" in text
    assert client.get(reverse("rollers:lathe", args=[one.pk])).status_code == 422


def test_a_fact_recorded_without_the_acts_still_counts_for_nothing(line_b, signed_in) -> None:
    version = line_b.in_force()
    on_record(line_b.b09, version)
    page = signed_in(line_b.cast.dara).get(reverse("rollers:metal", args=[version.pk]))
    assert any("never re-applied" in sentence for sentence, _ in page.context["against"])


def test_strips_give_the_secant_modulus_at_the_line_strain_with_its_uncertainty(line_b, signed_in) -> None:
    page = look(signed_in(line_b.cast.dara), curve(1800), curve(1850), curve(1900))
    found = page.context["found"]
    assert page.status_code == 200 and found.value_mpa == pytest.approx(1850)
    assert found.strain_pct == pytest.approx(100 * 180 / (1850 * 35), rel=0.01)
    assert {"force", "thickness"} <= {name for name, _ in found.parts} and found.expanded_pct > 2
    text = page.content.decode()
    assert "Stress over strain of the strips" in text and "10 Mar 2026" in text


def test_what_was_looked_at_becomes_the_next_version_and_the_rest_stays(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    take = look(client, curve(1700), curve(1720)).context["take"]
    answer = client.post(reverse("rollers:take-modulus", args=["BO-35"]), take.initial | {"web_temperature_c": ""})
    assert answer.status_code == 302
    old, new = ProductVersion.objects.filter(product__code="BO-35").order_by("number")
    assert new.current and new.modulus_md_mpa == pytest.approx(1710) and new.modulus_direction == "MD"
    assert "secant at" in new.modulus_method and "2 strips" in new.modulus_method
    assert str(new.modulus_on) == "2026-03-10"
    for field in ("thickness_um", "width_max_mm", "tension_set_n_per_m", "friction", "wander_mm"):
        assert getattr(new, field) == getattr(old, field)


def test_a_cross_direction_modulus_leaves_the_other_one_alone(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    take = look(client, curve(3200, direction="CD"), direction="CD").context["take"]
    client.post(reverse("rollers:take-modulus", args=["BO-35"]), take.initial | {"web_temperature_c": ""})
    new = ProductVersion.objects.get(product__code="BO-35", current=True)
    assert (new.modulus_md_mpa, new.modulus_cd_mpa) == (1900, pytest.approx(3200))


def test_nothing_is_taken_over_without_the_role_a_reason_or_the_files(line_b, signed_in) -> None:
    client, url = signed_in(line_b.cast.dara), reverse("rollers:take-modulus", args=["BO-35"])
    given = look(client, curve()).context["take"].initial | {"web_temperature_c": ""}
    assert "the reason stands in the record" in client.post(url, given | {"reason": " "}).content.decode()
    gone = client.post(url, given | {"digests": "0" * 64})
    assert gone.status_code == 422 and "is not here any more" in gone.content.decode()
    assert client.post(url, given | {"seen_version": 7}).status_code == 409
    assert signed_in(line_b.cast.tomas).post(url, given).status_code in (403, 422)
    assert client.post(url, {}).status_code == 422
    assert ProductVersion.objects.filter(product__code="BO-35").count() == 1


def test_every_bad_row_is_named_with_its_line(line_b, signed_in) -> None:
    text = HEAD.format(direction="MD") + "0,0\n0.1,x\n0.2\n0.3,1\n0.25,2\n0.4,3\n"
    assert bad_rows(text, "a.csv") == [
        "a.csv, line 9: force_n is 'x', which is no number.",
        "a.csv, line 10: 1 entry under 2 columns.",
        "a.csv, line 12: extension_mm is 0.25, not above the row before.",
    ]
    page = look(signed_in(line_b.cast.dara), curve(), text)
    shown = page.content.decode()
    assert page.status_code == 422 and "strip 2.csv, line 9" in shown and page.context["found"] is None


def test_german_decimals_are_read_and_the_example_file_is_sound() -> None:
    text = curve().replace(",", ";").replace(".", ",")
    assert bad_rows(text, "b.csv") == []
    assert strips_of([("b.csv", text.encode())])[0].force[-1] == pytest.approx(1850 * 0.015 * 35 * 0.6 / 100, rel=1e-4)


@pytest.mark.parametrize(
    ("content", "direction", "said"),
    [
        (curve(direction="CD"), "MD", "was pulled in CD"),
        (curve(most=0.1), "MD", "pull the strip further"),
        ("# direction: MD\nextension_mm,force_n\n0,0\n1,1\n2,2\n3,3\n", "MD", "temperature_c is missing"),
        ("nothing", "MD", "direction is missing"),
    ],
)
def test_a_file_that_does_not_answer_says_what_is_missing(line_b, signed_in, content, direction, said) -> None:
    page = look(signed_in(line_b.cast.dara), content, direction=direction)
    assert page.status_code == 422 and said in page.content.decode()


def test_a_file_that_is_no_text_and_no_file_at_all_are_refused(line_b, signed_in) -> None:
    client, url = signed_in(line_b.cast.dara), reverse("rollers:modulus", args=["BO-35"])
    picture = SimpleUploadedFile("p.png", b"\x89PNG\xff\xfe\x00", "image/png")
    assert "is not text in UTF-8" in client.post(url, {"strips": [picture], "direction": "MD"}).content.decode()
    assert "Choose at least one file" in client.post(url, {"direction": "MD"}).content.decode()


def test_a_table_value_is_a_wide_band_and_flagged(line_b, signed_in) -> None:
    page = signed_in(line_b.cast.dara).get(reverse("rollers:modulus", args=["BO-35"]), {"material": "BOPP"})
    table = page.context["table"]
    assert table["high"] / table["low"] > 2 and "not measured on this product" in table["flags"][0]
    assert "BOPP" in page.content.decode()
