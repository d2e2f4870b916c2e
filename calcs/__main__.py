"""Command line: ``python -m calcs check CASE.json`` and the other commands of ``_USAGE``.

Prints JSON. Exit status: 0 fits, 1 caution, 2 refused, 3 cannot tell (these four only with a printed answer; span,
uncertainty, evidence and sampling give no such verdict and exit 0), 64 bad input with a sentence on standard error, 70
an error of the program itself. ``-`` reads standard input.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, NoReturn

from calcs import lathe
from calcs.case import Case, CaseError, parse_case
from calcs.common import common_wraps
from calcs.evidence import Minimum, Window, study
from calcs.metal import tape_to_metal
from calcs.readings import CANNOT_TELL, CAUTION, FITS, REFUSED
from calcs.sampling import NORMAL, sampling_plan
from calcs.sizing import suggest
from calcs.span_report import as_answer, save_fields, span_report
from calcs.uncertainty import DRAWS, uncertainty
from calcs.verdict import check

EXIT = {FITS: 0, CAUTION: 1, REFUSED: 2, CANNOT_TELL: 3}
BAD_INPUT = 64
INTERNAL = 70
MOST_BYTES = 1_000_000
_USAGE = (
    "Usage: python -m calcs check CASE.json | python -m calcs size CASE.json [CASE.json ...] | "
    "python -m calcs span CASE.json [--field FILE.npz] | "
    "python -m calcs uncertainty CASE.json [--seed NUMBER] [--draws NUMBER] | "
    "python -m calcs common CASE.json CASE.json [CASE.json ...] | "
    "python -m calcs metal PROVEN.json [OTHER.json ...] [--shape arc|bow-tie|dog-bone] [--csv FILE.csv] | "
    "python -m calcs evidence EVENTS EXPOSURE EVENTS EXPOSURE [--unit m|h] [--least EXPOSURE] (before, after) | "
    "python -m calcs sampling LOT AQL [--level LEVEL] [--severity normal|tightened|reduced]   "
    "(- reads stdin)"
)


def _no_constant(word: str) -> NoReturn:
    raise CaseError("case", f"The case contains {word}, which is not a number that can be measured; give the value.")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise CaseError(twice, f"{twice} is given twice in one group; keep the one that is right.")
    return found


def _read(name: str) -> bytes:
    try:
        if name == "-":
            return sys.stdin.buffer.read(MOST_BYTES + 1)
        with Path(name).open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CaseError(name, f"{name} cannot be read ({reason}); check the file name.") from None


def load_case(name: str) -> Case:
    """Read and parse one case file (``-``: standard input).

    Raises
    ------
    CaseError
        The file cannot be read, is too large, no JSON, or no valid case.
    """
    content = _read(name)
    if len(content) > MOST_BYTES:
        raise CaseError(
            name, f"{name} is larger than {MOST_BYTES // 1000} kB; one case is a few lines, check the file."
        )
    try:
        text = content.decode("utf-8-sig")
        decoded = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)
    except UnicodeDecodeError:
        raise CaseError(name, f"{name} is not text in UTF-8; save the case as plain JSON.") from None
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise CaseError(name, f"{name} is not valid JSON at {place}: {error.msg}.") from None
    except (RecursionError, ValueError) as error:
        if isinstance(error, CaseError):
            raise
        raise CaseError(name, f"{name} is not a case: it is nested too deeply or has an absurd number.") from None
    return parse_case(decoded)


def _answer(arguments: Sequence[str]) -> tuple[dict[str, Any], int]:
    verb, names = (arguments[0], arguments[1:]) if arguments else ("", ())
    if verb == "check" and len(names) == 1:
        verdict = check(load_case(names[0]))
        return verdict.as_dict(), EXIT[verdict.overall]
    if verb == "size" and names:
        suggestion = suggest([load_case(name) for name in names])
        return suggestion.as_dict(), EXIT[suggestion.verdict]
    if verb == "span" and (len(names) == 1 or (len(names) == 3 and names[1] == "--field")):
        report = span_report(load_case(names[0]))
        if len(names) == 3:
            save_fields(report, names[2])
        return as_answer(report), EXIT[FITS]
    if verb in ("uncertainty", "common", "metal"):
        return _further(verb, names)
    if verb == "evidence":
        return _evidence(names), EXIT[FITS]
    if verb == "sampling":
        return _sampling(names), EXIT[FITS]
    raise CaseError("command", _USAGE)


def _options(names: Sequence[str], known: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Files, and the options among them with their values."""
    files, found, rest = [], {}, list(names)
    while rest:
        name = rest.pop(0)
        if not name.startswith("--"):
            files.append(name)
        elif name not in known or not rest:
            raise CaseError(name, f"{name} is no option of this command or has no value. {_USAGE}")
        else:
            found[name] = rest.pop(0)
    return files, found


def _whole(options: dict[str, str], name: str, usual: int) -> int:
    text = options.get(name, str(usual))
    if not text.lstrip("-").isdecimal() or len(text) > 18:
        raise CaseError(name, f"{name} is '{text}'; give a whole number.")
    return int(text)


def _further(verb: str, names: Sequence[str]) -> tuple[dict[str, Any], int]:
    """The commands that look past one verdict: how sure, several products, metal."""
    known = {"uncertainty": ("--seed", "--draws"), "common": (), "metal": ("--shape", "--csv")}[verb]
    files, options = _options(names, known)
    if not files or (verb == "uncertainty" and len(files) > 1) or (verb == "common" and len(files) < 2):
        raise CaseError("command", _USAGE)
    cases = [load_case(name) for name in files]
    if verb == "uncertainty":
        seed, draws = _whole(options, "--seed", 1), _whole(options, "--draws", DRAWS)
        return uncertainty(cases[0], seed=seed, draws=draws).as_dict(), EXIT[FITS]
    called = [Path(name).stem for name in files]
    if verb == "common":
        shared = common_wraps(cases, names=called)
        return shared.as_dict(), EXIT[shared.verdict]
    metal = tape_to_metal(cases[0], cases[1:], names=called)
    cut = metal.cut(options["--shape"]) if "--shape" in options else metal.best
    if "--csv" in options:
        _write(options["--csv"], lathe.lathe_csv(metal, cut))
    return lathe.as_answer(metal, cut), EXIT[metal.verdict]


def _number(name: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise CaseError(name, f"{name} is '{text}'; give a number.") from None


def _evidence(names: Sequence[str]) -> dict[str, Any]:
    """A before/after study from its four figures; rolls are not asked here, so their scatter is not tested."""
    figures, options = _options(names, ("--unit", "--least"))
    if len(figures) != 4:
        raise CaseError("command", _USAGE)
    called = ("before.events", "before.exposure", "after.events", "after.exposure")
    numbers = [_number(name, text) for name, text in zip(called, figures, strict=True)]
    for name, number in zip(called, numbers, strict=True):
        if name.endswith("events") and not number.is_integer():
            raise CaseError(name, f"{name} is {number:g}; give a whole number, 0 or more.")
    least = _number("--least", options.get("--least", "0"))
    windows = Window(int(numbers[0]), numbers[1]), Window(int(numbers[2]), numbers[3])
    found = study(*windows, Minimum(least), options.get("--unit", "m"))
    return {
        "verdict": found.verdict,
        "ratio": found.ratio if found.ratio is None or math.isfinite(found.ratio) else None,
        "low": found.low,
        "high": found.high if math.isfinite(found.high) else None,
        "p_value": found.exact.p_value,
        "sentences": list(found.sentences),
    }


def _sampling(names: Sequence[str]) -> dict[str, Any]:
    figures, options = _options(names, ("--level", "--severity"))
    if len(figures) != 2:
        raise CaseError("command", _USAGE)
    lot = _whole({"lot_size": figures[0]}, "lot_size", 0)
    plan = sampling_plan(
        lot, _number("aql", figures[1]), options.get("--level", "II"), options.get("--severity", NORMAL)
    )
    return asdict(plan)


def _write(name: str, text: str) -> None:
    try:
        Path(name).write_text(text, encoding="utf-8")
    except OSError as error:
        raise CaseError(name, f"{name} cannot be written ({error.strerror}); name a file you may write.") from None


def main(arguments: Sequence[str]) -> int:
    """Run one command and return its exit status."""
    try:
        answer, status = _answer(arguments)
        text = json.dumps(answer, indent=2, ensure_ascii=True, allow_nan=False)
    except CaseError as error:
        print(error.sentence, file=sys.stderr)
        return BAD_INPUT
    except Exception as error:  # the door of the program: anything else is our mistake, and says so
        print(
            f"Internal error ({type(error).__name__}: {error}). No verdict was made; keep the case file and report "
            "it to whoever keeps this system.",
            file=sys.stderr,
        )
        return INTERNAL
    print(text)
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
