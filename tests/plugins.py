"""What every test run has: its own data folder, the services that are there, an account of what is not.

Loaded before the settings are read.
"""

import atexit
import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from playwright import sync_api

from tests import migrated, services

# A test run never sees the developer's own installation.
if "BANDKEEPER_SCRATCH" not in os.environ:
    os.environ["BANDKEEPER_SCRATCH"] = tempfile.mkdtemp(prefix="bandkeeper-tests-")
    atexit.register(shutil.rmtree, os.environ["BANDKEEPER_SCRATCH"], ignore_errors=True)
SCRATCH = Path(os.environ["BANDKEEPER_SCRATCH"])
os.environ["PLANT_DATA_DIR"] = str(SCRATCH / "var")
os.environ.setdefault("PLANT_SECRET_KEY", "only-for-tests-" + "0" * 40)
# Playwright's synchronous interface runs an event loop in the same thread, which Django takes for async code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")
LACKING: Counter[str] = Counter()
REDIS_URL = os.environ.get("TEST_REDIS_URL", "")


def pytest_configure(config: pytest.Config) -> None:
    """A file, not memory, for SQLite: then WAL and the locks are those of the real installation."""
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        (SCRATCH / "var").mkdir(parents=True, exist_ok=True)
        name = SCRATCH / f"suite-{os.getpid()}.sqlite3"
        database.setdefault("TEST", {})["NAME"] = str(name)
        if not config.option.collectonly and not config.option.create_db:
            worker = getattr(config, "workerinput", {}).get("workerid")
            migrated.copy_to(Path(f"{name}_{worker}") if worker else name)
            config.option.reuse_db = True


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what cannot run on this machine as skipped, and say which piece it waits for."""
    lacking = {}
    if any(item.get_closest_marker("browser") for item in items) and browser_found() is None:
        lacking["browser"] = "Chromium"
    if any(item.get_closest_marker("pdf") for item in items) and not services.find_pango():
        lacking["pdf"] = "Pango"
    for item in items:
        for marker, piece in lacking.items():
            if item.get_closest_marker(marker):
                item.add_marker(pytest.mark.skip(reason=f"waits for {piece}, which is not on this machine"))


_browser: list[services.Browser | None] = []


def browser_found() -> services.Browser | None:
    if not _browser:
        _browser.append(services.find_chromium())
    return _browser[0]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name each missing piece with the number of tests that wait for it."""
    for report in terminalreporter.stats.get("skipped", []):
        reason = str(report.longrepr[2]) if isinstance(report.longrepr, tuple) else ""
        if "waits for " in reason:
            LACKING[reason.split("waits for ")[1].split(",")[0]] += 1
    for piece, count in LACKING.items():
        terminalreporter.write_line(f"{count} tests skipped: {piece} is not on this machine.")
    if note := os.environ.get("BANDKEEPER_NOTE"):
        terminalreporter.write_line(note)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """In continuous integration nothing may be missing: a skipped kind is a failure there."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if CI and reporter and any("waits for " in str(each.longrepr) for each in reporter.stats.get("skipped", [])):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session")
def soak_factor() -> int:
    """How much of a long seeded run to do: 1 in the ordinary suite, 20 under `./dev soak`."""
    return 20 if os.environ.get("BANDKEEPER_SOAK") == "1" else 1


@pytest.fixture(scope="session")
def redis_url() -> str:
    """The address of the suite's own Redis."""
    if not REDIS_URL:
        pytest.skip("waits for Redis, which is not on this machine or was not started: use ./dev test")
    return REDIS_URL


@pytest.fixture(scope="session")
def browser() -> Iterator[sync_api.Browser]:
    """One headless Chromium for the whole run of this process."""
    found = browser_found()
    if found is None:
        pytest.skip("waits for Chromium, which is not on this machine")
    if node := services.playwright_node():
        os.environ["PLAYWRIGHT_NODEJS_PATH"] = node
    with sync_api.sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path=found.program,
            args=list(found.arguments),
            env={**os.environ, **found.environment},
        )
        yield launched
        launched.close()
