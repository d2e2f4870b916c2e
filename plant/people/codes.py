"""Codes that are read from paper and typed: no letter or digit that could be taken for another."""

import secrets

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def typed_code(groups: int) -> str:
    """So many groups of four from the system's random source; each group carries about 20 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(groups))
