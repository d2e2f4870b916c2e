"""The hashes, trees and canonical JSON on which the records stand, against published values."""

import hashlib
import json
from datetime import datetime

import pytest

from plant.audit.canonical import canonical, plain
from plant.audit.merkle import EMPTY, leaf_hash, path_of, root_by_path, root_of, split

# FIPS 180-4; the two messages and digests of the NIST example values for SHA-256, and the million of "a".
SHA_256 = {
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
}

# The eight leaves with which Certificate Transparency implementations test RFC 6962.
LEAVES = ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")
ROOTS = {
    1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
}


def leaves(count):
    return [leaf_hash(bytes.fromhex(each)) for each in LEAVES[:count]]


@pytest.mark.parametrize("message", SHA_256, ids=["empty", "abc", "448 bits", "a million of a"])
def test_sha_256_gives_the_digests_of_fips_180_4(message):
    assert hashlib.sha256(message).hexdigest() == SHA_256[message]


@pytest.mark.parametrize("size", ROOTS)
def test_the_tree_gives_the_roots_of_rfc_6962_test_data(size):
    assert root_of(leaves(size)).hex() == ROOTS[size]


def test_the_root_of_nothing_is_the_hash_of_the_empty_string_as_in_rfc_6962_section_2_1():
    assert root_of([]) == EMPTY == hashlib.sha256(b"").digest()


def by_definition(hashes):
    """RFC 6962 section 2.1 as it is written: split at the largest power of two below n."""
    if len(hashes) == 1:
        return hashes[0]
    k = split(len(hashes))
    return hashlib.sha256(b"\x01" + by_definition(hashes[:k]) + by_definition(hashes[k:])).digest()


def path_by_definition(hashes, index):
    """RFC 6962 section 2.1.1 as it is written."""
    if len(hashes) == 1:
        return []
    k = split(len(hashes))
    if index < k:
        return [*path_by_definition(hashes[:k], index), by_definition(hashes[k:])]
    return [*path_by_definition(hashes[k:], index - k), by_definition(hashes[:k])]


@pytest.mark.parametrize("size", [*range(1, 34), 63, 64, 65, 100])
def test_level_by_level_gives_the_same_as_the_recursive_definition_for_root_and_every_path(size):
    hashes = [leaf_hash(bytes([number])) for number in range(size)]
    root = by_definition(hashes)
    assert root_of(hashes) == root
    for index in range(size):
        path = path_of(hashes, index)
        assert path == path_by_definition(hashes, index)
        assert root_by_path(hashes[index], index, size, path) == root


def test_the_paths_in_a_tree_of_seven_have_the_lengths_of_rfc_6962_section_2_1_1():
    hashes = [leaf_hash(bytes([number])) for number in range(7)]
    assert [len(path_of(hashes, index)) for index in range(7)] == [3, 3, 3, 3, 3, 3, 2]


def test_a_path_that_is_too_short_too_long_or_elsewhere_proves_nothing():
    hashes = [leaf_hash(bytes([number])) for number in range(7)]
    path, root = path_of(hashes, 3), root_of(hashes)
    for wrong in (path[:-1], [*path, path[0]]):
        with pytest.raises(ValueError, match="path"):
            root_by_path(hashes[3], 3, 7, wrong)
    assert root_by_path(hashes[3], 2, 7, path) != root
    with pytest.raises(ValueError, match="outside"):
        root_by_path(hashes[3], 7, 7, path)


def test_numbers_and_literals_are_written_as_in_rfc_8785_section_3_2_2():
    value = json.loads(
        '{"numbers":[1E30,4.50,333333333.33333329,2e-3,0.000000000000000000000000001],"literals":[null,true,false]}'
    )
    expected = b'{"literals":[null,true,false],"numbers":[1e+30,4.5,333333333.3333333,0.002,1e-27]}'
    assert canonical(value) == expected


def test_keys_are_sorted_by_utf_16_code_units_as_in_rfc_8785_section_3_2_3():
    names = ["\u20ac", "\r", "1", "\u0080", "\u00f6", "\U0001f600", "\ufb33"]
    written = canonical({name: position for position, name in enumerate(names)}).decode()
    assert list(json.loads(written)) == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_strings_are_escaped_as_in_rfc_8785_section_3_2_2():
    """The string of the example in section 3.2.2: euro, $, shift-in, newline, A'B, quote, backslashes, quote, slash."""
    written = canonical({"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/"}).decode()
    assert written == '{"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'


def test_moments_are_kept_in_utc_as_rfc_3339_section_5_8_has_them():
    from_pacific = datetime.fromisoformat("1996-12-19T16:39:57-08:00")
    assert plain(from_pacific) == "1996-12-20T00:39:57.000000Z"
