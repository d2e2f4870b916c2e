"""The mechanics of taped spreader rollers, without any web framework.

Frozen SI inputs go in, frozen results come out. Start at :func:`calcs.case.parse_case`,
:func:`calcs.verdict.check` and :func:`calcs.sizing.suggest`; README.md in this folder has the formulas.
"""

VERSION = "1.0.0"
"""Version of the formulas. The same version recomputes a stored verdict to 1e-9 relative."""
