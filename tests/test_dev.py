"""The script that newcomers type, the services it starts for the tests, and the locks it installs from."""

import json
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import psycopg
import pytest
import redis
from playwright.sync_api import Browser

from tests import services

ROOT = Path(__file__).resolve().parent.parent
COMMON = ("sh", "cat", "cksum", "mkdir", "rm", "mv", "tr", "id", "uname", "dirname", "grep", "tail", "sleep", "ls")


def clean(**more: str) -> dict[str, str]:
    """The environment of a person who has set nothing of ours."""
    ours = ("PLANT_", "BANDKEEPER_", "PYTEST_", "TEST_", "DJANGO_")
    return {name: value for name, value in os.environ.items() if not name.startswith(ours)} | more


def dev(*words: str, tree: Path = ROOT, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [tree / "dev", *words],
        env=env or clean(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=300,
    )


@pytest.fixture
def bare_tree(tmp_path: Path) -> Path:
    """The script and the locks in a folder where nothing is installed yet."""
    tree = tmp_path / "a tree with spaces"
    shutil.copytree(ROOT / "requirements", tree / "requirements")
    shutil.copy(ROOT / "dev", tree)
    return tree


@pytest.fixture
def few_programs(tmp_path: Path) -> Path:
    """A PATH with a shell's everyday programs: no Python, no package manager."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for name in COMMON:
        if found := shutil.which(name):
            (folder / name).symlink_to(found)
    return folder


def test_an_unknown_command_is_named_and_the_known_ones_listed() -> None:
    outcome = dev("serve")
    assert outcome.returncode == 2
    assert "does not know 'serve'" in outcome.stderr
    assert "./dev COMMAND" in outcome.stderr


@pytest.mark.parametrize("port", ["", "eighty", "-1", "1234567"])
def test_a_port_that_is_no_port_is_refused(port: str) -> None:
    outcome = dev("run", "--port", port)
    assert outcome.returncode == 1
    assert "--port must be a number" in outcome.stderr


def test_without_python_it_says_what_to_type(bare_tree: Path, few_programs: Path) -> None:
    outcome = dev("run", tree=bare_tree, env=clean(PATH=str(few_programs)))
    assert outcome.returncode == 1
    assert "needs Python 3.11 to 3.14" in outcome.stderr
    assert "python3" in outcome.stderr
    assert "not found" not in outcome.stderr, "a shell's own complaint is no sentence for a person"


def test_without_network_it_says_so_in_one_sentence(bare_tree: Path, few_programs: Path) -> None:
    (few_programs / "python3").symlink_to(getattr(sys, "_base_executable", sys.executable))
    with socket.socket() as reserved:  # bound but not listening: every connection is refused
        reserved.bind(("127.0.0.1", 0))
        nowhere = f"http://127.0.0.1:{reserved.getsockname()[1]}/simple"
        env = clean(PATH=str(few_programs), PIP_INDEX_URL=nowhere, PIP_RETRIES="0", PIP_CONFIG_FILE=os.devnull)
        for name in ("PIP_FIND_LINKS", "PIP_EXTRA_INDEX_URL"):
            env.pop(name, None)
        outcome = dev("run", tree=bare_tree, env=env)
    assert outcome.returncode == 1
    assert "the package registry cannot be reached" in outcome.stderr
    assert "Traceback" not in outcome.stderr
    assert not (bare_tree / ".venv.lock").exists()


def test_a_second_start_waits_for_no_dead_setup(bare_tree: Path, few_programs: Path) -> None:
    lock = bare_tree / ".venv.lock"
    lock.mkdir()
    (lock / "pid").write_text("999999999\n")
    outcome = dev("run", tree=bare_tree, env=clean(PATH=str(few_programs)))
    assert "needs Python" in outcome.stderr
    assert not lock.exists()


def started(env: dict[str, str], *words: str) -> tuple[subprocess.Popen[str], str]:
    """A running `./dev run` and all that it printed until it was ready."""
    server = subprocess.Popen(
        [ROOT / "dev", "run", *words],
        env=env,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert server.stdout is not None
    said = ""
    for line in server.stdout:
        said += line
        if "Ctrl-C stops it" in line:
            return server, said
    pytest.fail(f"./dev run ended by itself: {said}")


def stopped(server: subprocess.Popen[str]) -> None:
    server.send_signal(signal.SIGINT)
    try:
        server.wait(timeout=20)
    finally:
        server.kill()
        assert server.stdout is not None
        server.stdout.close()


@pytest.fixture
def installation(tmp_path: Path) -> Path:
    """A var/ of its own in which the demo plant counts as loaded; another test loads it."""
    var = tmp_path / "var"
    var.mkdir()
    (var / ".bandkeeper").write_text("")
    (var / "demo-signins.txt").write_text("Somebody signs in as nobody.\n")
    return var


def test_run_serves_the_address_that_it_prints_and_only_on_its_own_database(installation: Path) -> None:
    foreign = installation.parent / "foreign.sqlite3"
    env = clean(BANDKEEPER_VAR=str(installation), PLANT_DATABASE_URL=f"sqlite:///{foreign}")
    port = str(services.free_port())
    server, said = started(env, "--port", port)
    try:
        assert f"http://localhost:{port}" in said
        assert "Somebody signs in as nobody." in said
        assert "PLANT_DATABASE_URL is set but ./dev does not use it" in said
        assert "Only this machine can reach it" in said
        with urllib.request.urlopen(f"http://localhost:{port}/", timeout=20) as answer:
            assert answer.status == 200
        again = dev("run", env=env)
        assert again.returncode == 1
        assert "running here already" in again.stderr
        refused = dev("reset", "--yes", env=env)
        assert refused.returncode == 1
    finally:
        stopped(server)
    assert (installation / "bandkeeper.sqlite3").exists()
    assert not foreign.exists()
    assert (installation / "secret").stat().st_mode & 0o077 == 0


def test_with_a_certificate_run_serves_https_that_the_plants_authority_vouches_for(installation: Path) -> None:
    env = clean(BANDKEEPER_VAR=str(installation))
    assert dev("cert", env=env).returncode == 0
    port = str(services.free_port())
    server, said = started(env, "--port", port)
    try:
        trust = ssl.create_default_context(cafile=str(installation / "tls" / "ca.pem"))
        with urllib.request.urlopen(f"https://localhost:{port}/", timeout=20, context=trust) as answer:
            assert answer.status == 200
        with pytest.raises(urllib.error.URLError):
            urllib.request.urlopen(f"https://localhost:{port}/", timeout=20)
    finally:
        stopped(server)
    assert f"https://localhost:{port}" in said


def test_a_port_in_use_is_named_with_a_way_out(installation: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        outcome = dev("run", "--port", port, env=clean(BANDKEEPER_VAR=str(installation)))
    assert outcome.returncode == 1
    assert f"Port {port} is in use" in outcome.stderr


def test_reset_leaves_a_folder_alone_that_it_did_not_make(tmp_path: Path) -> None:
    (tmp_path / "bandkeeper.sqlite3").write_text("somebody's")
    outcome = dev("reset", "--yes", env=clean(BANDKEEPER_VAR=str(tmp_path)))
    assert outcome.returncode == 1
    assert (tmp_path / "bandkeeper.sqlite3").exists()


def test_reset_asks_first_and_keeps_the_certificates(tmp_path: Path) -> None:
    var = tmp_path / "var"
    (var / "tls").mkdir(parents=True)
    for name in (".bandkeeper", "tls/ca.pem", "bandkeeper.sqlite3", "demo-signins.txt"):
        (var / name).write_text("x")
    env = clean(BANDKEEPER_VAR=str(var))
    assert dev("reset", env=env).returncode == 1
    assert (var / "bandkeeper.sqlite3").exists()
    assert dev("reset", "--yes", env=env).returncode == 0
    assert sorted(path.name for path in var.iterdir()) == [".bandkeeper", "tls"]


def test_a_certificate_is_signed_by_the_plants_own_authority_and_renewed_under_it(tmp_path: Path) -> None:
    env = clean(BANDKEEPER_VAR=str(tmp_path / "var"))
    assert dev("cert", "plant-host.test", "10.1.2.3", env=env).returncode == 0
    tls = tmp_path / "var" / "tls"
    authority = (tls / "ca.pem").read_bytes()
    assert dev("cert", "second-host.test", env=env).returncode == 0
    assert (tls / "ca.pem").read_bytes() == authority
    verify = ["openssl", "verify", "-CAfile", tls / "ca.pem", "-purpose", "sslserver"]
    for name in (
        ["-verify_hostname", "plant-host.test"],
        ["-verify_hostname", "second-host.test"],
        ["-verify_ip", "10.1.2.3"],
    ):
        assert subprocess.run([*verify, *name, tls / "plant.pem"], capture_output=True).returncode == 0, name
    for secret in ("ca.key", "plant.key"):
        assert (tls / secret).stat().st_mode & 0o077 == 0


def test_a_certificate_for_something_that_is_no_name_is_refused(tmp_path: Path) -> None:
    outcome = dev("cert", "plant host;id", env=clean(BANDKEEPER_VAR=str(tmp_path / "var")))
    assert outcome.returncode == 1
    assert "neither a host name nor an address" in outcome.stderr
    assert not (tmp_path / "var" / "tls" / "plant.pem").exists()


def test_the_services_are_closed_to_strangers_and_end_when_told(tmp_path: Path) -> None:
    binaries, program = services.find_postgres(), services.find_redis()
    if binaries is None or program is None:
        pytest.skip("waits for PostgreSQL and Redis, which is not on this machine")
    started = services.Services(tmp_path)
    for folder in (tmp_path, *list(tmp_path.parents)[:3]):
        if folder.owner() == tmp_path.owner() and folder != Path("/tmp"):
            folder.chmod(folder.stat().st_mode | 0o055)  # PostgreSQL under root runs as somebody else
    try:
        database, broker = started.start_postgres(binaries), started.start_redis(program)
        with psycopg.connect(database) as connection:
            row = connection.execute("show listen_addresses").fetchone()
            assert row is not None and row[0] == "127.0.0.1"
        with pytest.raises(psycopg.OperationalError):
            psycopg.connect(re.sub(r"app:[^@]*", "app:wrong", database))
        with pytest.raises(redis.AuthenticationError):
            redis.Redis.from_url(re.sub(r"//:[^@]*@", "//", broker)).ping()
        children = [child for child, _ in started.started]
    finally:
        started.stop()
    assert all(child.poll() is not None for child in children)


START_AND_WAIT = """
import sys, time
from pathlib import Path
from tests import services
print(services.Services(Path(sys.argv[1])).start_redis(services.find_redis()), flush=True)
time.sleep(60)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel's parent-death signal is Linux only")
def test_a_killed_test_run_leaves_no_service_behind(tmp_path: Path) -> None:
    if services.find_redis() is None:
        pytest.skip("waits for Redis, which is not on this machine")
    run = subprocess.Popen(
        [sys.executable, "-c", START_AND_WAIT, tmp_path], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    client = redis.Redis.from_url(run.stdout.readline().strip())
    assert client.ping()
    run.send_signal(signal.SIGKILL)
    run.wait()
    run.stdout.close()
    give_up = time.monotonic() + 10
    while time.monotonic() < give_up:
        try:
            client.ping()
        except redis.ConnectionError:
            return
        time.sleep(0.05)
    pytest.fail("Redis outlived the run that had started it")


def run_pytest(tmp_path: Path, content: str, **env: str) -> subprocess.CompletedProcess[str]:
    (tmp_path / "test_planted.py").write_text(content)
    (tmp_path / "conftest.py").write_text("from tests import services\nservices.find_chromium = lambda **_: None\n")
    command = [sys.executable, "-m", "pytest", "-q", "-c", ROOT / "pyproject.toml", "--rootdir", ROOT]
    command += ["-p", "no:cacheprovider", tmp_path]
    return subprocess.run(command, cwd=ROOT, env=clean(**env), capture_output=True, text=True)


WAITS_FOR_CHROMIUM = """
import pytest
@pytest.mark.browser
def test_of_a_screen(browser):
    assert browser
"""


def test_a_missing_piece_is_counted_and_named(tmp_path: Path) -> None:
    outcome = run_pytest(tmp_path, WAITS_FOR_CHROMIUM, CI="")
    assert outcome.returncode == 0, outcome.stdout
    assert "1 tests skipped: Chromium is not on this machine." in outcome.stdout


def test_a_missing_piece_fails_continuous_integration(tmp_path: Path) -> None:
    assert run_pytest(tmp_path, WAITS_FOR_CHROMIUM, CI="true").returncode == 1


@pytest.mark.parametrize(("soak", "factor"), [("", 1), ("1", 20)])
def test_the_ordinary_suite_runs_a_twentieth_of_the_soak(tmp_path: Path, soak: str, factor: int) -> None:
    content = f"def test_factor(soak_factor):\n    assert soak_factor == {factor}\n"
    outcome = run_pytest(tmp_path, content, BANDKEEPER_SOAK=soak)
    assert outcome.returncode == 0, outcome.stdout


SOAK_AND_NOT = """
import pytest
@pytest.mark.soak
def test_long(soak_factor):
    assert soak_factor == 20
def test_short():
    pass
"""


def test_the_soak_runs_the_long_tests_in_full_and_no_others(tmp_path: Path) -> None:
    (tmp_path / "test_planted.py").write_text(SOAK_AND_NOT)
    outcome = dev("soak", "-p", "no:cacheprovider", str(tmp_path / "test_planted.py"), env=clean(CI=""))
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr
    assert "1 passed" in outcome.stdout


@pytest.mark.browser
def test_a_real_browser_opens_a_page(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content("<h1>Tarn Hollow Works</h1>")
    assert page.get_by_role("heading").inner_text() == "Tarn Hollow Works"
    page.close()


def pins(name: str) -> dict[str, set[str]]:
    """Each package of a lock with its versions (a universal lock may hold two for two Pythons)."""
    found: dict[str, set[str]] = {}
    for line in (ROOT / "requirements" / name).read_text().splitlines():
        if match := re.match(r"([a-z0-9.-]+)(?:\[[a-z,]+\])?==([^ ]+)", line):
            found.setdefault(match[1], set()).add(match[2])
    return found


def test_the_locks_pin_everything_that_is_asked_for_and_agree() -> None:
    run, both = pins("run.txt"), pins("dev.txt")
    assert len(run) > 30
    assert {name: both[name] for name in run} == run
    for file, locked in (("run.in", run), ("dev.in", both)):
        for line in (ROOT / "requirements" / file).read_text().splitlines():
            if match := re.match(r"[A-Za-z][A-Za-z0-9._-]*", line):
                assert match[0].lower().replace("_", "-") in locked, f"{match[0]} is not locked"


def test_every_pin_carries_a_hash_and_no_lock_names_an_address() -> None:
    for name in ("run.txt", "dev.txt"):
        content = (ROOT / "requirements" / name).read_text()
        assert "://" not in content
        for block in re.split(r"\n(?=[a-z])", content)[1:]:
            assert "--hash=sha256:" in block, block
    lock = json.loads((ROOT / "requirements/chromium/package-lock.json").read_text())
    fetched = {name: entry for name, entry in lock["packages"].items() if name}
    assert fetched
    assert all(entry["integrity"].startswith("sha512-") and "resolved" not in entry for entry in fetched.values())
