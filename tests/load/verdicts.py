"""How many first-order verdicts a second: 24,000 product-position pairs at all their corners, on two processes.

A script, not a timed test:  python -m tests.load.verdicts [processes]

Every pair has ranges in operating state and in properties, so each verdict looks at every corner, and each comes
complete: numbers, checks with sentences and worst corners, notices, suggested wraps. Pairs are made beforehand from
a seed; the time is for parsing nothing and judging everything.
"""

from __future__ import annotations

import os
import random
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

from calcs.case import Case, parse_case
from calcs.verdict import check_many
from tests.calcs.cases import PLACES, PRODUCTS, ROLLERS, TAPES, demo_case

SIZES = (1000, 3000, 6000, 12_000, 24_000)
CHUNK = 500


def spread(value: float, share: float) -> list[float]:
    """A range of plus or minus a share."""
    return [value * (1 - share), value * (1 + share)]


def pair(draw: random.Random) -> Case:
    """One product on one roller, with ranges everywhere a plant has them."""
    product, roller, tape = (draw.choice(list(names)) for names in (PRODUCTS, PLACES, TAPES))
    width, thickness, modulus, tension, speed, friction = PRODUCTS[product]
    width *= draw.uniform(0.97, 1.0)
    return parse_case(
        demo_case(
            product,
            roller,
            tape,
            draw.randint(0, 4),
            web__width_mm=[width - 4, width + 4],
            web__thickness_um=spread(thickness, 0.05),
            web__modulus_md_mpa=spread(modulus * draw.uniform(0.9, 1.1), 0.1),
            web__yield_strain_pct=spread(4, 0.1),
            state__tension_n_per_m=spread(tension, 0.15),
            state__speed_m_per_min=[speed / 2, speed],
            roller__diameter_mm=spread(ROLLERS[roller]["diameter_mm"], 0.002),
            roller__roughness_um=spread(ROLLERS[roller]["roughness_um"], 0.1),
            roller__friction=spread(friction, 0.1),
            tape__thickness_mm=spread(TAPES[tape]["thickness_mm"], 0.1),
            tape__roughness_um=spread(TAPES[tape]["roughness_um"], 0.1),
        )
    )


def judged(seed: int, count: int) -> tuple[float, float, Counter[str]]:
    """Make ``count`` pairs, then judge them: seconds by the clock and by the processor, and the words found."""
    draw = random.Random(seed)
    cases = [pair(draw) for _ in range(count)]
    check_many(cases[:20])
    start, work = time.perf_counter(), time.process_time()
    words: Counter[str] = Counter()
    for first in range(0, count, CHUNK):
        words.update(verdict.overall for verdict in check_many(cases[first : first + CHUNK]))
    return time.perf_counter() - start, time.process_time() - work, words


def main(processes: int) -> None:
    """Print one line per size; the time of a size is that of its slowest process.

    The processor's seconds show what the work costs when other work shares the machine.
    """
    print(f"{processes} processes, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start")
    print(f"{'pairs':>8} {'clock s':>8} {'per second':>11} {'processor s':>12} {'ms per pair':>12}")
    with ProcessPoolExecutor(processes) as pool:
        for size in SIZES:
            share = size // processes
            results = list(pool.map(judged, range(processes), [share] * processes))
            clock, work = (max(result[part] for result in results) for part in (0, 1))
            print(f"{size:>8} {clock:>8.2f} {size / clock:>11.0f} {work:>12.2f} {1000 * work / share:>12.3f}")
    words = sum((result[2] for result in results), Counter[str]())
    print("words at the last size:", ", ".join(f"{word} {count}" for word, count in words.most_common()))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2)
