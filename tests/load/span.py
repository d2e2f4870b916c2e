"""How long the two-dimensional span takes: against finite elements, against first order, and for a whole plant.

A script, not a timed test:  python -m tests.load.span [plant] [processes]

1. One verdict's two-dimensional part against the same boundary-value problem in quadratic finite elements, on the
   coarsest mesh of a ladder whose entry shifts and middle CD stress are as close to a much finer answer as asked;
   cold, and with the factorisation (the material) there already.
2. The same against the first-order verdict.
3. Invented plants of 1,000 to 24,000 product-position pairs (40 lines x 50 positions x 12 products): every pair gets
   its first-order verdict and its two-dimensional numbers, both at all their corners.

Everything in one run, one thread per process; ratios travel between machines, seconds do not.
"""

from __future__ import annotations

import os
import random
import resource
import statistics
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from calcs.case import Case, parse_case
from calcs.span import Span, SpanLoad, SpanWeb, solve
from calcs.span_corners import SpanRanges, span_ranges_many
from calcs.span_modes import KEPT_MODES
from calcs.span_profile import RollerProfile, TapedStrip
from calcs.verdict import check_many
from tests.calcs.cases import PRODUCTS, TAPES
from tests.calcs.validation.test_span_finite_elements import (
    MODULUS,
    RADIUS,
    RISE,
    TENSION,
    THICKNESS,
    WIDTH,
    Elements,
    Question,
)

LINES, POSITIONS = 40, 50
SIZES = (1_000, 3_000, 6_000, 12_000, 24_000)
CHUNK = 250
ASK = Question(1.0, 0.8, 0.3, 0.15, True, 2e-4)
LADDER = ((16, 24), (22, 32), (30, 44), (44, 70), (60, 96), (80, 128), (104, 168))
CLOSE = 5e-4
"""A looser accuracy, for which a ratio is printed too; the elements go on until they match the span solver's own."""
PLACES = np.array([-1.0, -0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 1.0])


def seconds(act: Callable[[], object], times: int) -> float:
    """Median processor time of an act."""
    found = []
    for _ in range(times):
        start = time.process_time()
        act()
        found.append(time.process_time() - start)
    return statistics.median(found)


def question() -> tuple[Span, list[SpanLoad]]:
    """The benchmark's own span: bands at both ends, tilted."""
    edge, half = (0.5 - ASK.band) * WIDTH, WIDTH / 2
    strips = [TapedStrip(edge, half + 0.05, RISE), TapedStrip(-half - 0.05, -edge, RISE)]
    span = Span(SpanWeb(WIDTH, THICKNESS, MODULUS, MODULUS * ASK.ratio, ASK.poisson), ASK.slenderness * WIDTH, TENSION)
    return span, [SpanLoad(RollerProfile.banded(RADIUS, strips), ASK.slope, bridged=False)]


def errors(shift: np.ndarray, cd: np.ndarray, best: tuple[np.ndarray, np.ndarray]) -> float:
    """Largest error of shifts and middle CD stresses, each relative to its largest."""
    return max(
        float(np.abs(mine - right).max() / np.abs(right).max()) for mine, right in zip((shift, cd), best, strict=True)
    )


def of_span(degree: int) -> tuple[np.ndarray, np.ndarray]:
    """Entry shifts and CD stresses of the span solver, in half widths and MD moduli."""
    span, loads = question()
    solved = solve(span, loads, degree)[0].solved
    return solved.entry(PLACES).v, solved.entry(PLACES[1:-1]).stress.cd


def of_elements(elements: Elements) -> tuple[np.ndarray, np.ndarray]:
    """The same of the elements."""
    y = PLACES * WIDTH / 2
    answer = elements.at(np.full(y.size, elements.length), y)
    return answer["shift"] * 2.0 / WIDTH, answer["cd"][1:-1]


def against_elements() -> float:
    """Print the comparison with finite elements; returns the warm time of one span."""
    best = of_span(160)
    span, loads = question()
    mine = errors(*of_span(48), best)

    def cold() -> None:
        KEPT_MODES.clear()
        solve(span, loads)

    cold_time, warm_time = seconds(cold, 9), seconds(lambda: solve(span, loads), 25)
    print(f"span solver: error {mine:.1e}; cold {1e3 * cold_time:.1f} ms, material kept {1e3 * warm_time:.2f} ms")
    wanted = [CLOSE, mine]
    for along, across in LADDER:
        elements = Elements(ASK, along, across)
        error = errors(*of_elements(elements), best)
        whole = seconds(lambda: Elements(ASK, along, across), 3 if along < 60 else 1)  # noqa: B023
        again = seconds(elements.again, 5)
        print(
            f"elements {along} x {across}: {elements.u.size} unknowns, error {error:.1e}; cold {1e3 * whole:.0f} ms, "
            f"factorisation kept {1e3 * again:.1f} ms"
        )
        while wanted and error <= wanted[0]:
            print(
                f"-> at an error of {wanted.pop(0):.1e} the span is {whole / cold_time:.0f} x faster, both cold; "
                f"{whole / warm_time:.0f} x with its material kept; {again / warm_time:.1f} x with both kept"
            )
        if not wanted:
            break
    else:
        print(
            f"-> the finest mesh does not reach {wanted[0]:.1e}; at least {whole / cold_time:.0f} x faster, both cold"
        )
    return warm_time


def plant(seed: int) -> list[Case]:
    """An invented plant, line by line: 50 positions, 12 products of that line, ranges everywhere."""
    draw = random.Random(seed)
    cases = []
    for _ in range(LINES):
        face = draw.uniform(900, 2400)
        sheets = []
        for number in range(12):
            _, thickness, modulus, tension, speed, friction = draw.choice(list(PRODUCTS.values()))
            modulus *= draw.uniform(0.7, 1.4)
            ratio = 1.0 if number % 3 else draw.uniform(0.4, 1.6)
            sheets.append((face * draw.uniform(0.55, 0.95), thickness, modulus, ratio, tension, speed, friction))
        for _ in range(POSITIONS):
            diameter, span = draw.uniform(80, 250), draw.uniform(300, 2400)
            tape, wraps, ends = draw.choice(list(TAPES.values())), draw.randint(0, 3), draw.choice((1, 2, 2))
            for width, thickness, modulus, ratio, tension, speed, friction in sheets:
                inner = 0.5 * width * draw.uniform(0.65, 0.85)
                cases.append(
                    parse_case(
                        {
                            "web": {
                                "width_mm": [width - 3, width + 3],
                                "thickness_um": [0.95 * thickness, 1.05 * thickness],
                                "modulus_md_mpa": [0.9 * modulus, 1.1 * modulus],
                                **({} if ratio == 1.0 else {"modulus_cd_mpa": modulus * ratio}),
                                "wander_mm": 4,
                            },
                            "state": {
                                "tension_n_per_m": [0.85 * tension, 1.15 * tension],
                                "speed_m_per_min": [speed / 2, speed],
                            },
                            "roller": {
                                "diameter_mm": [0.998 * diameter, 1.002 * diameter],
                                "face_mm": face,
                                "wrap_deg": 90,
                                "entry_span_mm": span,
                                "roughness_um": 25,
                                "friction": [0.9 * friction, 1.1 * friction],
                                "misalignment_mm_per_m": [-0.2, 0.2],
                            },
                            "tape": dict(tape),
                            "bands": [
                                {"end": end, "inner_mm": inner, "outer_mm": 0.49 * face, "wraps": wraps}
                                for end in ("operator", "drive")[:ends]
                            ]
                            if inner < 0.49 * face
                            else [],
                        }
                    )
                )
    return cases


def judged(cases: list[Case]) -> tuple[float, float, int]:
    """Processor seconds of the first order and of the span, and corners looked at, for one chunk."""
    start = time.process_time()
    check_many(cases)
    middle = time.process_time()
    corners = sum(found.corners for found in span_ranges_many(cases) if isinstance(found, SpanRanges))
    return middle - start, time.process_time() - middle, corners


def whole_plant(processes: int) -> None:
    """Print time, growth and memory of plants of rising size."""
    cases = plant(7)
    rates = []
    for size in SIZES:
        # Every size takes its pairs from all lines, so that the mix of products stays the same.
        some = cases[:: len(cases) // size][:size]
        chunks = [some[at : at + CHUNK] for at in range(0, size, CHUNK)]
        start = time.perf_counter()
        with ProcessPoolExecutor(processes) as pool:
            parts = list(pool.map(judged, chunks))
        wall = time.perf_counter() - start
        first, second = (sum(part[index] for part in parts) for index in (0, 1))
        corners = sum(part[2] for part in parts)
        rates.append(((first + second) / size, wall / size))
        print(
            f"{size} pairs: {wall:.1f} s by the clock on {processes} processes "
            f"({(first + second) / processes:.1f} s of processor each), {corners} corners; "
            f"first order {1e3 * first / size:.2f} ms, "
            f"two-dimensional part {1e3 * second / size:.2f} ms a pair = {second / first:.1f} x first order"
        )
    peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    processor, clock = (rates[-1][kind] / rates[0][kind] for kind in (0, 1))
    print(
        f"growth per pair from {SIZES[0]} to {SIZES[-1]}: {processor:.2f} x of processor time, "
        f"{clock:.2f} x by the clock"
    )
    print(f"peak memory: {own / 1024:.0f} MiB here, at most {peak / 1024:.0f} MiB in one process")


def main(arguments: list[str]) -> None:
    """Run all parts; the word ``plant`` leaves the finite elements out, whose memory would hide the plant's."""
    numbers = [int(word) for word in arguments if word.isdigit()]
    if "plant" not in arguments:
        against_elements()
    whole_plant(numbers[0] if numbers else min(2, os.cpu_count() or 1))


if __name__ == "__main__":
    if os.environ.get("OMP_NUM_THREADS") != "1":
        one = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        os.execve(sys.executable, [sys.executable, "-m", "tests.load.span", *sys.argv[1:]], os.environ | one)
    main(sys.argv[1:])
