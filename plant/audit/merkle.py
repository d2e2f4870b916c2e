"""Merkle trees as RFC 6962 section 2.1 hashes them: leaf SHA-256(00 + data), node SHA-256(01 + left + right)."""

import hashlib
from collections.abc import Sequence

EMPTY = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """The hash of one leaf."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of a node over its two children."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def split(size: int) -> int:
    """The largest power of two below `size` (size > 1): so many leaves go to the left."""
    return 1 << (size - 1).bit_length() - 1


def root_of(leaves: Sequence[bytes]) -> bytes:
    """The root over the hashes of the leaves. Pairs are joined level by level; an odd last one moves up as it is."""
    level = list(leaves)
    if not level:
        return EMPTY
    while len(level) > 1:
        joined = [node_hash(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
        level = joined + level[len(level) & ~1 :]
    return level[0]


def path_of(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The audit path of a leaf: what must be hashed with it, from the leaf upwards."""
    level, path = list(leaves), []
    while len(level) > 1:
        beside = index ^ 1
        if beside < len(level):
            path.append(level[beside])
        joined = [node_hash(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
        level, index = joined + level[len(level) & ~1 :], index >> 1
    return path


def root_by_path(leaf: bytes, index: int, size: int, path: Sequence[bytes]) -> bytes:
    """The root to which a leaf and its audit path lead.

    Raises
    ------
    ValueError
        When the path has not the length that the place of the leaf asks for.
    """
    if not 0 <= index < size:
        raise ValueError("the leaf lies outside the tree")
    left, last, found = list(path), size - 1, leaf
    while last:
        if index & 1:
            found = node_hash(_next(left), found)
        elif index < last:
            found = node_hash(found, _next(left))
        index, last = index >> 1, last >> 1
    if left:
        raise ValueError("the path is too long for this place of the tree")
    return found


def _next(path: list[bytes]) -> bytes:
    if not path:
        raise ValueError("the path is too short for this place of the tree")
    return path.pop(0)
