#!/usr/bin/env python3
"""Check a proof file with Python alone: python3 check_proof.py PROOF.json [ROOT or ROOTS.jsonl]
ROOT is the root as it was printed that day, ROOTS.jsonl a kept file of roots. Hashes: SHA-256 (FIPS 180-4); trees as in
RFC 6962, section 2.1; the link of an event is SHA-256(link before + body).
"""

import hashlib
import json
import sys
from pathlib import Path


def sha(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def climb(leaf: bytes, place: dict) -> str:
    """The root to which a leaf leads from its place in the tree."""
    index, last, found = place["index"], place["size"] - 1, sha(b"\x00" + leaf)
    path = [bytes.fromhex(each) for each in place["path"]]
    if not 0 <= index <= last:
        raise ValueError("the leaf lies outside the tree")
    while last:
        if index & 1:
            found = sha(b"\x01" + path.pop(0) + found)
        elif index < last:
            found = sha(b"\x01" + found + path.pop(0))
        index, last = index >> 1, last >> 1
    return found.hex() if not path else "the path is too long"


def check(proof: dict, wanted: set) -> str:
    """Every step from the event to the root, printed; the event in words."""
    event, (stream, header) = proof["event"], map(json.loads, (proof["stream"], proof["header"]))
    body = json.loads(event["body"])
    steps = {
        "the body gives the event's hash": sha(bytes.fromhex(event["previous_hash"]) + event["body"].encode()).hex()
        == event["hash"],
        "the event lies in its stream": climb(bytes.fromhex(event["hash"]), proof["in_stream"]) == stream["events_root"]
        and (body["stream"], body["seq"]) == (stream["stream"], stream["first"] + proof["in_stream"]["index"]),
        "the stream lies under the root": climb(proof["stream"].encode(), proof["in_root"]) == proof["root"],
        "the day lies under the root": climb(proof["header"].encode(), proof["header_in_root"]) == proof["root"]
        and header["date"] == proof["date"],
        "the root is the one that was kept": not wanted or proof["root"] in wanted,
    }
    for step, fits in steps.items():
        print("fits " if fits else "FAILS", step)
    if not all(steps.values()):
        raise ValueError("this is not what was recorded")
    return f"Root of {proof['date']}: {proof['root']}\n{body['at']} {body['actor']}: {body['sentence']}"


if __name__ == "__main__":
    try:
        lines = [Path(each).read_text("utf-8") if Path(each).is_file() else each for each in sys.argv[2:3]]
        kept = {json.loads(each)["root"] if each[0] == "{" else each for each in "".join(lines).split("\n") if each}
        print(check(json.loads(Path(sys.argv[1]).read_text("utf-8")), kept))
    except (IndexError, KeyError, TypeError, ValueError, OSError) as trouble:
        sys.exit(f"Not proved: {trouble}" if len(sys.argv) > 1 else __doc__)
