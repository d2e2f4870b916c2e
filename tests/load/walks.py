"""How good and how honest the named roller is, on walks with planted truth.

A script, not a test:  python -m tests.load.walks [walks] [picture.svg]

Prints how often the named roller and that of the enumeration are the planted one, and per tenth of stated sureness how
many walks were right; draws the latter if a file is named.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.calcs.walks import Tally, tally

SEED = 20260323
SIDE, EDGE = 400, 60


def picture(found: Tally) -> str:
    """Stated sureness against share right, one disc per tenth, its area the number of walks; an SVG of our own."""

    def at(x: float, y: float) -> tuple[float, float]:
        return EDGE + SIDE * x, EDGE + SIDE * (1 - y)

    most = max(each.count for each in found.bins)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIDE + 2 * EDGE} {SIDE + 2 * EDGE}" '
        'font-family="sans-serif" font-size="13">',
        '<rect width="100%" height="100%" fill="white"/>',
    ]
    (x0, y0), (_, y1) = at(0, 0), at(1, 1)
    parts.append(f'<rect x="{x0}" y="{y1}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#555"/>')
    for shift, dash in ((-0.05, "4 4"), (0.0, "none"), (0.05, "4 4")):
        (xa, ya), (xb, yb) = at(max(0, -shift), max(0, shift)), at(min(1, 1 - shift), min(1, 1 + shift))
        parts.append(f'<line x1="{xa}" y1="{ya}" x2="{xb}" y2="{yb}" stroke="#555" stroke-dasharray="{dash}"/>')
    for tick in range(0, 11, 2):
        (x, y), (left, up) = at(tick / 10, 0), at(0, tick / 10)
        parts.append(f'<text x="{x}" y="{y + 20}" text-anchor="middle">{tick * 10}</text>')
        parts.append(f'<text x="{left - 8}" y="{up + 4}" text-anchor="end">{tick * 10}</text>')
    for each in found.bins:
        if each.count:
            x, y = at(each.mean_stated, each.share_right)
            radius = 3 + 11 * (each.count / most) ** 0.5
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="#1f6f8b" fill-opacity="0.7"/>')
    middle = EDGE + SIDE / 2
    parts.append(f'<text x="{middle}" y="{y0 + 42}" text-anchor="middle">stated sureness, %</text>')
    parts.append(f'<text transform="translate(18 {middle}) rotate(-90)" text-anchor="middle">named right, %</text>')
    title = f"{found.walks:,} planted walks; dashed: 5 points off"
    parts.append(f'<text x="{middle}" y="{EDGE - 20}" text-anchor="middle">{title}</text></svg>')
    return "\n".join(parts)


def main(arguments: list[str]) -> None:
    """Tally, print, draw."""
    count = int(arguments[0]) if arguments else 10_000
    start = time.process_time()
    found = tally(SEED, count)
    spent = time.process_time() - start
    print(f"{count:,} planted walks in {spent:.0f} s of processor time, enumeration included")
    print(f"named right {found.named_right / count:.2%}, by enumeration {found.enumerated_right / count:.2%}")
    print(f"farthest apart of two chances {found.farthest:.1e}")
    print("sureness     walks   stated    right   apart")
    for tenth, each in enumerate(found.bins):
        apart = 100 * (each.share_right - each.mean_stated)
        print(
            f"{tenth * 10:3}-{tenth * 10 + 10:3} %  {each.count:7,}  {each.mean_stated:6.1%}  {each.share_right:6.1%}  "
            f"{apart:+6.1f}"
        )
    if len(arguments) > 1:
        Path(arguments[1]).write_text(picture(found), encoding="utf-8")
        print(f"picture: {arguments[1]}")


if __name__ == "__main__":
    main(sys.argv[1:])
