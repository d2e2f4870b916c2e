"""`./dev test` and `./dev soak`: start services, run the suite on both databases, stop them."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from types import FrameType

import pytest

from tests import registry_browser, services

ROOT = Path(__file__).resolve().parent.parent
CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")
SAY_HOW = {
    "PostgreSQL": "sudo apt-get install postgresql",
    "Redis": "sudo apt-get install redis-server",
    "Chromium": "sudo apt-get install chromium",
    "Pango": "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core",
}


def say(sentence: str) -> None:
    print(sentence, flush=True)


def stop_on_signal(number: int, frame: FrameType | None) -> None:
    raise SystemExit(128 + number)


class Lacking(dict[str, str]):
    """The pieces that are not here, each with the reason."""

    def add(self, piece: str, reason: str) -> None:
        self[piece] = reason
        say(f"{piece}: {reason}. To have it: {SAY_HOW[piece]}")


def prepare(started: services.Services, lacking: Lacking) -> dict[str, str]:
    """Find and start everything; return what the environment of the tests says of it."""
    found: dict[str, str] = {}
    database = os.environ.get("TEST_DATABASE_URL", "")
    try:
        if database:
            say("PostgreSQL: the one named by TEST_DATABASE_URL")
        elif binaries := services.find_postgres():
            database = started.start_postgres(binaries)
            say(f"PostgreSQL: {binaries}")
        else:
            lacking.add("PostgreSQL", "not on this machine")
    except services.NotStarted as trouble:
        lacking.add("PostgreSQL", str(trouble))
    found["BANDKEEPER_POSTGRES"] = database
    try:
        if address := os.environ.get("TEST_REDIS_URL"):
            say("Redis: the one named by TEST_REDIS_URL")
            found["TEST_REDIS_URL"] = address
        elif program := services.find_redis():
            found["TEST_REDIS_URL"] = started.start_redis(program)
            say(f"Redis: {program}")
        else:
            lacking.add("Redis", "not on this machine")
    except services.NotStarted as trouble:
        lacking.add("Redis", str(trouble))
    try:
        if browser := services.find_chromium(fetch=True):
            say(f"Chromium: {browser.program}")
        else:
            lacking.add("Chromium", "the one that was fetched does not run here")
    except registry_browser.NotFetched as trouble:
        lacking.add("Chromium", str(trouble))
    if services.find_pango():
        say("Pango: here")
    else:
        lacking.add("Pango", "not on this machine")
    return found


def run(environment: dict[str, str], arguments: list[str]) -> int:
    """One pytest run; ended with it when this process is told to end."""
    ours = ["-c", str(ROOT / "pyproject.toml"), "--rootdir", str(ROOT)]  # whatever file the arguments name
    child = subprocess.Popen([sys.executable, "-m", "pytest", *ours, *arguments], env=environment)
    try:
        return child.wait()
    except BaseException:
        child.send_signal(signal.SIGINT)
        try:
            child.wait(timeout=15)
        except (subprocess.TimeoutExpired, KeyboardInterrupt):
            child.kill()
        raise


def both(environment: dict[str, str], postgres: str, arguments: list[str]) -> int:
    """PostgreSQL first, so that the closing line is the one of the whole suite."""
    worst = 0
    if postgres:
        say("\nOn PostgreSQL: tests of locking, constraints, triggers, JSON, time; and those in a browser.")
        on_postgres = {**environment, "PLANT_DATABASE_URL": postgres}
        code = run(on_postgres, ["-n", "2", "--dist", "loadfile", "-m", "db_both or browser", *arguments])
        # The arguments may name only tests that need not run twice.
        worst = 0 if code == pytest.ExitCode.NO_TESTS_COLLECTED else code
    else:
        note = "The database tests were not run again on PostgreSQL, which is not on this machine."
        environment = {**environment, "BANDKEEPER_NOTE": note}
    say("\nOn SQLite: everything.")
    return run(environment, ["-n", "2", "--dist", "loadfile", *arguments]) or worst


def main() -> int:
    kind, arguments = sys.argv[1], sys.argv[2:]
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, stop_on_signal)
    scratch = Path(tempfile.mkdtemp(prefix="bandkeeper-"))
    started, lacking = services.Services(scratch), Lacking()
    try:
        found = prepare(started, lacking)
        if lacking and CI:
            say(f"Under CI=true nothing may be missing; see above for how to install {', '.join(lacking)}.")
            return 1
        postgres = found.pop("BANDKEEPER_POSTGRES")
        clean = {name: value for name, value in os.environ.items() if not name.startswith("PLANT_")}
        environment = {**clean, **found, "BANDKEEPER_SCRATCH": str(scratch / "tests")}
        if kind == "soak":
            return run({**environment, "BANDKEEPER_SOAK": "1"}, ["-m", "soak", "-n", "2", *arguments])
        return both(environment, postgres, arguments)
    except KeyboardInterrupt:
        say("Stopped.")
        return 130
    finally:
        started.stop()
        shutil.rmtree(scratch, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
