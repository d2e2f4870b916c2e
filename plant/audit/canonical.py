"""Canonical JSON (RFC 8785) and digests. Numbers that must not drift travel as strings."""

import hashlib
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import rfc8785

from plant.errors import Refused

ZERO = "0" * 64


def plain(value: Any) -> Any:
    """The value in the types that canonical JSON knows: times as RFC 3339 in UTC, decimals as strings."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in (sorted(value) if isinstance(value, set | frozenset) else value)]
    return value


def canonical(value: Any) -> bytes:
    """The one way to write this value as JSON.

    Raises
    ------
    Refused
        For numbers that JSON cannot hold exactly (infinity, NaN, whole numbers past 2**53).
    """
    try:
        return rfc8785.dumps(plain(value))
    except rfc8785.CanonicalizationError as trouble:
        raise Refused("not-recordable", f"This cannot be recorded: {trouble}. Check the numbers you typed.") from None


def digest(value: Any) -> str:
    """SHA-256 (FIPS 180-4) of the canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()


def chained(previous: str, body: bytes) -> str:
    """The next link: SHA-256 over the previous link's 32 bytes and the body."""
    return hashlib.sha256(bytes.fromhex(previous) + body).hexdigest()
