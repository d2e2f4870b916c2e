"""A supplier's public table of typical running tensions (dfe.com), lbf/in per mil, converted to SI."""

from __future__ import annotations

import pytest

from calcs import materials
from calcs.units import to_si

MIL = 25.4e-6


@pytest.mark.parametrize(("web", "stress"), [("PET", 5.171e6), ("LDPE", 1.724e6), ("aluminium foil", 6.895e6)])
def test_guideline_stress(web, stress):
    assert materials.guideline_tension(web, MIL) / MIL == pytest.approx(stress, rel=1e-3)


def test_fifty_pound_paper():
    assert float(to_si("1.25", "pli", "line tension")) == pytest.approx(218.9, rel=1e-3)


def test_pet_runs_near_a_tenth_of_a_per_cent():
    """0.115 %; the same order as the 0.05 % named in "The secret strain" (a trade magazine)."""
    strain = materials.guideline_tension("PET", MIL) / (4.5e9 * MIL)
    assert strain == pytest.approx(0.00115, rel=1e-2)
    assert 0.1 < strain / 0.0005 < 10


def test_a_web_that_the_table_does_not_have_gets_no_figure():
    assert materials.guideline_tension("paper", 1e-4) is None
