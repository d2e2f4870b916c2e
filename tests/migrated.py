"""A migrated SQLite database, made once for the migrations as they are and copied for each test run.

Migrating takes most of the time of a short run. The copy is migrated again, which finds nothing to do, and the rows
that every migration run lays down are laid down again; so a copy can never hide what a fresh database would show,
except for the SQL of the triggers, and that is part of the name.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
APPS = ("plant", "training", "rollers")


def name() -> str:
    """A name that changes with every migration, the triggers, and the versions of Python and the pinned packages."""
    digest = hashlib.sha256(sys.version.encode())
    files = [path for app in APPS for path in (ROOT / app).rglob("migrations/*.py")]
    files += [ROOT / "plant/audit/triggers.py", ROOT / "requirements/run.txt"]
    for path in sorted(files):
        digest.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
    return f"bandkeeper-migrated-{digest.hexdigest()[:20]}.sqlite3"


def copy_to(target: Path) -> None:
    """Lay a migrated database at `target`, making it first where nobody did yet."""
    kept = Path(tempfile.gettempdir()) / name()
    if not kept.exists():
        with tempfile.TemporaryDirectory(prefix="bandkeeper-migrating-") as folder:
            environment = os.environ | {"PLANT_DATA_DIR": folder, "PLANT_DATABASE_URL": ""}
            command = [sys.executable, str(ROOT / "manage.py"), "migrate", "-v", "0"]
            subprocess.run(command, env=environment, check=True, capture_output=True)
            made = next(Path(folder).glob("*.sqlite3"))
            fresh = kept.with_suffix(f".{os.getpid()}")
            shutil.copy(made, fresh)
            fresh.replace(kept)
    shutil.copy(kept, target)
