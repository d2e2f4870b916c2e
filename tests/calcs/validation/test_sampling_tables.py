"""Cells of MIL-STD-105E (10 May 1989), written out here anew, and worked examples."""

from __future__ import annotations

import pytest

from calcs.sampling import AQLS, NORMAL, REDUCED, TIGHTENED, acceptance_probability, code_letter, sampling_plan

LETTERS = """
2      A A A A A A B
8      A A A A A A B
9      A A A A A B C
15     A A A A A B C
16     A A B B B C D
25     A A B B B C D
26     A B B C C D E
50     A B B C C D E
51     B B C C C E F
90     B B C C C E F
91     B B C D D F G
150    B B C D D F G
151    B C D E E G H
280    B C D E E G H
281    B C D E F H J
500    B C D E F H J
501    C C E F G J K
1200   C C E F G J K
1201   C D E G H K L
3200   C D E G H K L
"""
"""Table I, first and last lot of each line, S-1 to S-4 and I to III: public transcription of the standard."""

NORMAL_TABLE = """
B 3    v  v  v  v  0  ^  v
C 5    v  v  v  0  ^  v  1
D 8    v  v  0  ^  v  1  2
E 13   v  0  ^  v  1  2  3
F 20   0  ^  v  1  2  3  5
G 32   ^  v  1  2  3  5  7
H 50   v  1  2  3  5  7  10
J 80   1  2  3  5  7  10 14
K 125  2  3  5  7  10 14 21
"""
"""Table II-A at AQL 0.65 1.0 1.5 2.5 4.0 6.5 10: two public transcriptions, one as of Table II-B."""

TIGHTENED_TABLE = """
B 3    v  v  v  v  v  0  v
C 5    v  v  v  v  0  v  v
D 8    v  v  v  0  v  v  1
E 13   v  v  0  v  v  1  2
F 20   v  0  v  v  1  2  3
G 32   0  v  v  1  2  3  5
H 50   v  v  1  2  3  5  8
J 80   v  1  2  3  5  8  12
K 125  1  2  3  5  8  12 18
L 200  2  3  5  8  12 18 ^
"""
"""Table II-B at the same AQLs: public table after MIL-STD-105E of the US National Institute of Building Sciences."""

LOTS = {"B": 9, "C": 16, "D": 26, "E": 51, "F": 91, "G": 151, "H": 281, "J": 501, "K": 1_201, "L": 3_201}
SHOWN = (0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)


@pytest.mark.parametrize("row", LETTERS.strip().splitlines())
def test_code_letters_are_those_of_table_one(row):
    size, *letters = row.split()
    for level, letter in zip(("S-1", "S-2", "S-3", "S-4", "I", "II", "III"), letters, strict=True):
        assert code_letter(int(size), level) == letter


@pytest.mark.parametrize(
    ("severity", "table"), [(NORMAL, NORMAL_TABLE), (TIGHTENED, TIGHTENED_TABLE)], ids=[NORMAL, TIGHTENED]
)
def test_every_cell_of_the_master_table_and_every_arrow_with_its_sample_size(severity, table):
    rows = [row.split() for row in table.strip().splitlines()]
    names = [row[0] for row in rows]
    for at, (letter, _, *cells) in enumerate(rows):
        for column, (aql, cell) in enumerate(zip(SHOWN, cells, strict=True)):
            found = sampling_plan(LOTS[letter], aql, severity=severity)
            assert found.first_letter == letter
            here = at
            while 0 <= here < len(rows) and not rows[here][2 + column].isdecimal():
                here += 1 if rows[here][2 + column] == "v" else -1
            if 0 <= here < len(rows):
                assert (found.letter, found.accept) == (names[here], int(rows[here][2 + column])), (letter, aql, cell)
                assert found.sample == min(int(rows[here][1]), LOTS[letter])
                assert found.reject == found.accept + 1


@pytest.mark.parametrize(
    ("aql", "letter", "sample", "accept"), [(1.0, "E", 13, 0), (2.5, "C", 5, 0), (4.0, "E", 13, 1)]
)
def test_arrows_change_the_sample_size(aql, letter, sample, accept):
    """Lot 40, level II is letter D; down, up, down (MIL-STD-105E, Table II-A)."""
    found = sampling_plan(40, aql)
    assert (found.first_letter, found.letter, found.sample, found.accept) == ("D", letter, sample, accept)


def test_a_lot_of_120_at_2_5():
    """Letter F, 20 looked at, 1 accepted, 2 rejected (MIL-STD-105E, Table II-A)."""
    found = sampling_plan(120, 2.5)
    assert (found.letter, found.sample, found.accept, found.reject) == ("F", 20, 1, 2)


@pytest.mark.parametrize(
    ("severity", "sample", "accept", "reject"), [(NORMAL, 125, 2, 3), (TIGHTENED, 125, 1, 2), (REDUCED, 50, 1, 3)]
)
def test_a_lot_of_2000_at_0_65(severity, sample, accept, reject):
    """Worked example of D. C. Montgomery, Introduction to Statistical Quality Control (from memory, not checked)."""
    found = sampling_plan(2_000, 0.65, severity=severity)
    assert (found.letter, found.sample, found.accept, found.reject) == ("K", sample, accept, reject)


@pytest.mark.parametrize(("share", "chance"), [(0.025, 0.9638), (0.05, 0.7604), (0.10, 0.2503)])
def test_chance_of_acceptance_of_50_with_3(share, chance):
    """Binomial sum, worked out; no published table at hand."""
    assert acceptance_probability(50, 3, share) == pytest.approx(chance, abs=5e-5)


def test_the_chance_at_the_aql_grows_with_the_sample():
    """Large samples accept quality at the AQL nearly always, small ones less often: the standard's own account.

    About 0.88 for acceptance on none, 0.99 for the largest numbers; the span of Table X is from memory, not checked.
    """
    for aql in AQLS:
        for lot in (40, 400, 2_000, 20_000, 400_000):
            plan = sampling_plan(lot, aql)
            if not plan.whole_lot:
                assert 0.84 < acceptance_probability(plan.sample, plan.accept, aql / 100) <= 0.998
