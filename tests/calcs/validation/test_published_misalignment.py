"""Ranking of webs against T. Walker, "How much misalignment is trouble?" (2009).

Published: 1 mil web, 1 lbf/in, 60 in wide, span 0.4 widths: trouble from 5 (PE), 2 (PET) and less than 1 (aluminium)
mil per foot. The roller radius is not stated (50 mm assumed here) and the closed form does not reproduce the levels;
for the wrinkle on the roller it does reproduce the ratios (2.3 and 2.1), for the trough in the span only the order.
"""

from __future__ import annotations

from calcs import wrinkle


def critical(modulus, wrinkles=True):
    width, thickness, tension = 60 * 0.0254, 25.4e-6, 175.127
    span, stress = 0.4 * width, tension / thickness
    if wrinkles:
        level = wrinkle.roller_wrinkle_stress(modulus, thickness, 0.3, 0.05)
    else:
        level = wrinkle.trough_stress(modulus, thickness, 0.3, span, stress)
    return wrinkle.misalignment_for(wrinkle.shear_for(level, stress), span, modulus, width)


def test_the_order_and_ratios_of_pe_pet_and_aluminium():
    pe, pet, aluminium = (critical(gpa * 1e9) for gpa in (0.7, 4.5, 69))
    assert pe > pet > aluminium
    assert 2 < pe / pet < 3
    assert pet / aluminium > 2


def test_troughs_rank_the_same_way():
    pe, pet, aluminium = (critical(gpa * 1e9, wrinkles=False) for gpa in (0.7, 4.5, 69))
    assert pe > pet > aluminium
