"""A backup comes back as it was, on both databases, and nothing is lost on the way."""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import TransactionTestCase

from plant.audit.models import Event
from plant.records.backup import archive, restoring
from tests import make

ROOT = Path(__file__).resolve().parents[2]


def run(data, *arguments):
    """A command in an installation of its own on SQLite."""
    here = {"PLANT_DATA_DIR": str(data), "PLANT_DATABASE_URL": "", "PLANT_SECRET_KEY": "k" * 50}
    command = [sys.executable, str(ROOT / "manage.py"), *arguments]
    return subprocess.run(command, env={**os.environ, **here}, capture_output=True, text=True, cwd=ROOT)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo plant with a photograph, and its backup."""
    data = tmp_path_factory.mktemp("demo")
    assert run(data, "migrate", "-v0").returncode == 0
    assert run(data, "load_demo", "--at", "2026-03-25T09:00+01:00").returncode == 0
    photo = data / "media" / "attachments" / "kept"
    photo.parent.mkdir(parents=True, exist_ok=True)
    photo.write_bytes(b"what the tail looked like")
    made = run(data, "backup", str(data / "kept.zip"))
    assert made.returncode == 0, made.stderr
    return data


def manifest_of(path):
    with zipfile.ZipFile(path) as file:
        return archive.read_manifest(file, path.name)


def test_a_backup_of_the_demo_comes_back_with_equal_digests_of_every_table_and_file(demo, tmp_path):
    back = run(tmp_path, "restore", str(demo / "kept.zip"))
    assert back.returncode == 0, back.stderr
    assert "Every table has the digest that it had when the backup was made." in back.stdout
    assert "everything stands as it was written" in back.stdout
    assert (tmp_path / "media/attachments/kept").read_bytes() == b"what the tail looked like"
    assert run(tmp_path, "backup", str(tmp_path / "again.zip")).returncode == 0
    first, again = manifest_of(demo / "kept.zip"), manifest_of(tmp_path / "again.zip")
    different = {name for name, value in first["tables"].items() if again["tables"][name] != value}
    assert different == {"audit_event", "audit_streamhead"}  # the restore itself stands in the trail
    assert again["tables"]["audit_event"][0] == first["tables"]["audit_event"][0] + 1
    media = "media/attachments/kept"
    assert again["members"][media] == first["members"][media]


def test_records_that_are_here_are_kept_unless_told_otherwise_and_then_backed_up(demo, tmp_path):
    data = tmp_path / "here"
    shutil.copytree(demo, data)
    said = run(data, "restore", str(demo / "kept.zip"))
    assert said.returncode == 1 and "There are records here already." in said.stderr
    assert not list(data.glob("before-restore-*"))
    assert run(data, "restore", str(demo / "kept.zip"), "--over").returncode == 0
    (kept,) = data.glob("before-restore-*.zip")
    assert manifest_of(kept)["tables"]["people_person"] == manifest_of(demo / "kept.zip")["tables"]["people_person"]
    (aside,) = data.glob("media.before-*")
    assert (aside / "attachments/kept").exists()


def test_a_drill_leaves_everything_as_it_is_and_says_in_the_trail_who_did_it_and_how_it_went(demo, tmp_path):
    data = tmp_path / "here"
    shutil.copytree(demo, data)
    said = run(data, "restore", str(data / "kept.zip"), "--drill", "--by", "100")
    assert said.returncode == 0 and "The drill went well" in said.stdout, said.stderr
    show = "from plant.audit.models import Event; e = Event.objects.get(action='restore-drill'); print(e.body)"
    told = json.loads(run(data, "shell", "-v0", "-c", show).stdout)
    assert told["actor"] == "100" and told["facts"]["good"] is True
    assert sorted(path.name for path in data.iterdir() if path.name.startswith("backup-")) == []
    assert "Say who does the drill" in run(data, "restore", str(data / "kept.zip"), "--drill").stderr


def rewritten(source, target, change):
    """A backup with a member changed, but its manifest left."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            for kept, content in change(name, old.read(name)):
                new.writestr(kept, content)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda n, c: [(n, c[:-1] + b"x" if n.startswith("media") else c)], "is not as it was written"),
        (lambda n, c: [] if n.startswith("media") else [(n, c)], "stands in only one of archive and manifest"),
        (lambda n, c: [(n, c.replace(b"media/attachments/kept", b"media/../../../escaped"))], "stands in only one"),
        (lambda n, c: [(n, c.replace(b'"vendor":"sqlite"', b'"vendor":"oracle"'))], "a backup of oracle"),
        (lambda n, c: [(n, c.replace(b'"audit.0001_initial"', b'"audit.9999_later"'))], "a newer Bandkeeper"),
        (lambda n, c: [(n, b"{}" if n == "manifest.json" else c)], "is no backup of Bandkeeper"),
    ],
)
@pytest.mark.django_db
def test_a_damaged_or_foreign_backup_is_refused_before_anything_is_touched(demo, tmp_path, settings, change, said):
    if connection.vendor != "sqlite":
        pytest.skip("the backup of the demo is of SQLite")
    settings.DATA_DIR = tmp_path
    rewritten(demo / "kept.zip", tmp_path / "bad.zip", change)
    with pytest.raises(CommandError, match=said):
        call_command("restore", str(tmp_path / "bad.zip"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.zip"]


@pytest.mark.django_db
def test_a_member_that_leads_elsewhere_is_not_written(tmp_path):
    target = tmp_path / "bad.zip"
    with zipfile.ZipFile(target, "w") as file:
        file.writestr("../escaped", b"x")
    with zipfile.ZipFile(target) as file, pytest.raises(archive.Refused, match="leads elsewhere"):
        archive.unpack(file, {"members": {"../escaped": "0" * 64}}, tmp_path / "in")
    assert not (tmp_path / "escaped").exists()


@pytest.mark.db_both
class OnTheServer(TransactionTestCase):
    """PostgreSQL by its own programs; SQLite by its online backup is proved above."""

    def test_a_backup_of_this_database_comes_back_in_a_drill(self):
        if connection.vendor != "postgresql":
            self.skipTest("SQLite is proved with the demo")
        if shutil.which("pg_dump") is None:
            self.skipTest("the programs of PostgreSQL are not on this machine")
        make.plant()
        keeper = make.person("Noor Adeyemi", "keeper")
        with self.settings(MEDIA_ROOT=self.folder / "media", DATA_DIR=self.folder):
            made = restoring.make_backup(self.folder / "kept.zip", at=make.AT)
            # the builder grants a role without an act: exactly that is what verification then names
            good, said = restoring.drill(made.path, by=keeper, at=make.AT)
        assert "no act of the trail gave it" in said, said
        assert not good
        assert Event.objects.filter(action="restore-drill", actor=keeper).count() == 1

    @pytest.fixture(autouse=True)
    def _folder(self, tmp_path):
        self.folder = tmp_path


def test_a_backup_is_never_written_over_a_file_and_half_a_one_is_taken_away(tmp_path, settings, monkeypatch):
    settings.DATA_DIR = tmp_path
    there = tmp_path / "mine.zip"
    there.write_text("mine")
    with pytest.raises(CommandError, match="is there already"):
        call_command("backup", str(there))
    assert there.read_text() == "mine"

    def breaks(*args, **kwargs):
        (tmp_path / "new.zip").write_text("half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(archive, "write", breaks)
    with pytest.raises(CommandError, match="No space left on device"):
        call_command("backup", str(tmp_path / "new.zip"))
    assert not (tmp_path / "new.zip").exists()
