"""The skills that every installation starts with. Levels and what they need are our own defaults."""

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from training.models import Skill
from training.standard_skills import STANDARD_SKILLS, lay_down_skills

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


def test_the_standard_skills_are_laid_down_with_what_they_need() -> None:
    needs = {skill.code: sorted(skill.needs.values_list("code", flat=True)) for skill in Skill.objects.all()}
    assert needs == {
        "aware": [],
        "apply": ["aware"],
        "check": ["apply"],
        "size": ["aware"],
        "teach": [],
        "assess": [],
        "food": ["apply"],
        "medical": ["apply"],
        "hot": ["apply"],
    }


def test_laying_them_down_again_changes_nothing_and_keeps_what_the_plant_chose() -> None:
    Skill.objects.filter(code="apply").update(valid_months=6, name="Taper")
    Skill.objects.get(code="size").needs.clear()
    lay_down_skills(apps=apps, using="default")
    assert Skill.objects.count() == len(STANDARD_SKILLS)
    apply = Skill.objects.get(code="apply")
    assert (apply.valid_months, apply.name) == (6, "Taper")
    assert not Skill.objects.get(code="size").needs.exists()


def test_a_missing_one_comes_back_with_what_it_needs() -> None:
    Skill.objects.filter(code="hot").delete()
    lay_down_skills(apps=apps, using="default")
    assert [need.code for need in Skill.objects.get(code="hot").needs.all()] == ["apply"]


def test_migrating_back_to_before_the_table_existed_is_no_error() -> None:
    before = MigrationLoader(connection).project_state(("people", "0001_initial")).apps
    lay_down_skills(apps=before, using="default")
    assert Skill.objects.count() == len(STANDARD_SKILLS)


@pytest.mark.django_db(transaction=True)
def test_they_are_there_again_after_the_tables_were_emptied() -> None:
    assert Skill.objects.count() == len(STANDARD_SKILLS)


@pytest.mark.django_db(transaction=True)
def test_they_are_there_again_after_the_tables_were_emptied_once_more() -> None:
    assert Skill.objects.count() == len(STANDARD_SKILLS)
