"""How long the order of the coming runs takes, and how far its bound lies below it.

A script, not a test:  python -m tests.load.orders [plans]

Invented plans (`tests.calcs.orders`) of 12 runs are planned for certain; plans of 20 and 40 runs get an order
with its gap.
Processor seconds of one process; the least re-taping order is set beside the order as entered.
"""

from __future__ import annotations

import statistics
import sys
import time
from typing import Any

from calcs.changeover import best_order, given_order
from tests.calcs.orders import invented

KINDS: dict[str, dict[str, Any]] = {
    "3 rollers, 3 states": {},
    "3 rollers, no times": {"calendar": False},
    "3 rollers, all at once": {"parallel": True},
    "5 rollers, 3 states": {"rollers": 5},
    "4 rollers, 4 states": {"rollers": 4, "states": 4},
}


def measured(runs: int, plans: int, kind: dict[str, Any]) -> str:
    """One line: seconds, how many are proven, gap, what is gained on the order as entered."""
    seconds, gaps, gains, proven = [], [], [], 0
    for seed in range(plans):
        asked = invented(seed, runs, **kind)
        start = time.process_time()
        plan = best_order(*asked, late_weight=1.0)
        seconds.append(time.process_time() - start)
        as_given = given_order(*asked, late_weight=1.0).objective
        proven += plan.proven
        gaps.append(plan.gap / plan.objective if plan.objective else 0.0)
        gains.append(1 - plan.objective / as_given if as_given else 0.0)
    return (
        f"{statistics.median(seconds):6.2f} {max(seconds):6.2f}   {proven:3} of {plans:3}   "
        f"{statistics.median(gaps):6.1%} {max(gaps):6.1%}   {statistics.median(gains):6.1%}"
    )


def main(arguments: list[str]) -> None:
    """Measure and print."""
    plans = int(arguments[0]) if arguments else 20
    print("runs  kind                     median    max s   proven       gap    max    gained")
    for runs in (12, 20, 40):
        for name, kind in KINDS.items():
            print(
                f"{runs:4}  {name:23} {measured(runs, plans if runs == 12 else max(1, plans // 5), kind)}", flush=True
            )


if __name__ == "__main__":
    main(sys.argv[1:])
