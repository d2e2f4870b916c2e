"""A running server with the demo plant, for one test module: its database, its clock, its end."""

import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from fcntl import LOCK_EX, flock
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg

from tests import services

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = "tests.settings_browser"


class NotServing(Exception):
    """The server does not come up; the sentence says what it printed."""


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """One process at a time: the workers of a test run share the filled databases."""
    with (folder / "browser.lock").open("w") as lock:
        flock(lock, LOCK_EX)
        yield


def scratch() -> Path:
    folder = Path(os.environ.get("BANDKEEPER_SCRATCH") or tempfile.gettempdir())
    folder.mkdir(parents=True, exist_ok=True)
    return folder


class Databases:
    """Filled once for each moment, then copied: a file on SQLite, a template on PostgreSQL."""

    def __init__(self) -> None:
        self.folder = scratch()
        address = os.environ.get("PLANT_DATABASE_URL", "")
        self.server = address if address.startswith("postgres") else ""
        # The name tells apart the runs that share a database server.
        self.mark = hashlib.sha256(str(self.folder).encode()).hexdigest()[:8]
        self.made = 0

    def named(self, name: str) -> str:
        """The address of a database of this run."""
        if self.server:
            return urlunsplit(urlsplit(self.server)._replace(path=f"/{name}"))
        return f"sqlite:///{self.folder / name}.sqlite3"

    def _on_server(self, *statements: str) -> None:
        with psycopg.connect(self.server, autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)  # type: ignore[call-overload]

    def _exists(self, name: str) -> bool:
        if not self.server:
            return (self.folder / f"{name}.sqlite3").exists()
        with psycopg.connect(self.server) as connection:
            found = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone()
        return found is not None

    def filled(self, at: str) -> str:
        """The name of a database in which the demo has come to a moment; empty where `at` is empty."""
        digest = hashlib.sha256(at.encode()).hexdigest()[:8]
        name, half = f"works_{self.mark}_{digest}", f"half_{self.mark}_{digest}"
        with alone(self.folder):
            if self._exists(name):
                return name
            self.drop(half)
            if self.server:
                self._on_server(f"CREATE DATABASE {half}")
            manage(["migrate", "-v0"], self.named(half), at)
            if at:
                manage(["load_demo", "--at", at], self.named(half), at)
            if self.server:
                self._on_server(f"ALTER DATABASE {half} RENAME TO {name}")
            else:
                (self.folder / f"{half}.sqlite3").rename(self.folder / f"{name}.sqlite3")
        return name

    def copy(self, at: str) -> str:
        """The name of a fresh copy for one module."""
        source, self.made = self.filled(at), self.made + 1
        name = f"copy_{self.mark}_{os.getpid()}_{self.made}"
        with alone(self.folder):
            if self.server:
                self._on_server(f"CREATE DATABASE {name} TEMPLATE {source}")
            else:
                shutil.copyfile(self.folder / f"{source}.sqlite3", self.folder / f"{name}.sqlite3")
        return name

    def drop(self, name: str) -> None:
        """Forget a database of this run."""
        if self.server:
            self._on_server(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        else:
            for path in self.folder.glob(f"{name}.sqlite3*"):
                path.unlink(missing_ok=True)

    def join(self) -> None:
        """This process uses the filled databases."""
        (self.folder / f"user-{os.getpid()}").touch()

    def leave(self) -> None:
        """Whoever leaves last forgets them: on a database server of others nothing may stay."""
        with alone(self.folder):
            (self.folder / f"user-{os.getpid()}").unlink(missing_ok=True)
            if any(self.folder.glob("user-*")):
                return
            for name in self._of_this_run():
                self.drop(name)

    def _of_this_run(self) -> list[str]:
        if not self.server:
            return [path.name.split(".")[0] for path in self.folder.glob(f"*_{self.mark}_*.sqlite3")]
        with psycopg.connect(self.server) as connection:
            pattern = f"%\\_{self.mark}\\_%"
            rows = connection.execute("SELECT datname FROM pg_database WHERE datname LIKE %s", [pattern]).fetchall()
        return [name for (name,) in rows]


def environment(address: str, folder: Path, **more: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PLANT_")}
    return kept | {
        "DJANGO_SETTINGS_MODULE": SETTINGS,
        "PLANT_DATABASE_URL": address,
        "PLANT_DATA_DIR": str(folder),
        "PLANT_SECRET_KEY": "only-for-tests-" + "0" * 40,
        **more,
    }


def manage(arguments: list[str], address: str, at: str) -> str:
    """Run a command on a database; returns what it printed."""
    folder = Path(tempfile.mkdtemp(prefix="works-", dir=scratch()))
    told = folder / "clock"
    told.write_text(at or "2026-03-25T09:00+01:00")
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment(address, folder, PLANT_TEST_CLOCK=str(told)),
        capture_output=True,
        text=True,
    )
    shutil.rmtree(folder, ignore_errors=True)
    if done.returncode:
        raise NotServing(f"manage.py {' '.join(arguments)} failed: {done.stderr.strip()[-2000:]}")
    return done.stdout


class Works:
    """The server of one module."""

    def __init__(self, databases: Databases, at: str) -> None:
        self.databases, self.at = databases, at
        self.database = databases.copy(at)
        self.folder = Path(tempfile.mkdtemp(prefix="served-", dir=scratch()))
        self.clock = self.folder / "clock"
        self.set_clock(at or "2026-03-25T09:00+01:00")
        self.url, self.child = "", None

    def set_clock(self, moment: str) -> None:
        """From now on it is this moment in the plant."""
        fresh = self.folder / "clock.new"
        fresh.write_text(datetime.fromisoformat(moment).isoformat())
        fresh.replace(self.clock)

    def manage(self, *arguments: str) -> str:
        """A command on the database that is served."""
        return manage(list(arguments), self.databases.named(self.database), self.clock.read_text())

    def start(self) -> "Works":
        port = services.free_port()
        self.url = f"http://127.0.0.1:{port}"
        more = {"PLANT_BIND": f"127.0.0.1:{port}", "PLANT_TEST_CLOCK": str(self.clock), "PLANT_BASE_URL": self.url}
        with (self.folder / "server.log").open("wb") as printed:
            self.child = subprocess.Popen(
                [sys.executable, "-m", "gunicorn", "--config", "plant/docker/gunicorn.conf.py", "plant.wsgi"],
                cwd=ROOT,
                env=environment(self.databases.named(self.database), self.folder, **more),
                stdin=subprocess.DEVNULL,
                stdout=printed,
                stderr=subprocess.STDOUT,
                preexec_fn=services.end_with_parent,
            )
        self._wait()
        return self

    def _wait(self) -> None:
        give_up = time.monotonic() + 60
        while time.monotonic() < give_up:
            with suppress(urllib.error.URLError, ConnectionError):
                urllib.request.urlopen(f"{self.url}/people/sign-in/", timeout=20).close()
                return
            if self.child is None or self.child.poll() is not None:
                break
            time.sleep(0.1)
        raise NotServing(f"The server did not start: {self.printed()}")

    def printed(self) -> str:
        """The end of what the server said."""
        return (self.folder / "server.log").read_text(errors="replace")[-3000:]

    def stop(self) -> None:
        """End this server, by its own process, and forget its database."""
        if self.child is not None and self.child.poll() is None:
            self.child.send_signal(signal.SIGTERM)
            try:
                self.child.wait(15)
            except subprocess.TimeoutExpired:
                self.child.kill()
                self.child.wait()
        self.databases.drop(self.database)
        shutil.rmtree(self.folder, ignore_errors=True)
