"""The layer contracts hold, and each of them can fail: a planted violation is caught."""

import shutil
import subprocess
import sysconfig
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LINT = Path(sysconfig.get_paths()["scripts"]) / "lint-imports"
PARTS = ("plant", "rollers", "training", "calcs")


def lint(tree: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([LINT, "--no-cache", tree / "pyproject.toml"], cwd=tree, capture_output=True, text=True)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The sources alone, where a test may plant what must not be."""
    for part in PARTS:
        shutil.copytree(ROOT / part, tmp_path / part, ignore=shutil.ignore_patterns("__pycache__", "static", "*.html"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_imports_keep_the_layers() -> None:
    outcome = lint(ROOT)
    assert outcome.returncode == 0, outcome.stdout


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("plant/audit/planted.py", "import rollers.planted_noun", "Imports point downwards only"),
        ("plant/people/planted.py", "import plant.floor.planted_noun", "Imports point downwards only"),
        ("training/planted.py", "import rollers.planted_noun", "Imports point downwards only"),
        ("plant/web/planted.py", "import plant.people.planted_noun", "Imports point downwards only"),
        ("calcs/planted.py", "import django.db", "calcs knows no Django"),
        ("calcs/planted.py", "import plant.errors", "calcs knows no Django"),
    ],
)
def test_an_import_that_points_upwards_is_caught(copy: Path, module: str, line: str, contract: str) -> None:
    for noun in ("rollers", "plant/floor", "plant/people"):
        (copy / noun / "planted_noun.py").write_text("")
    (copy / module).write_text(line + "\n")
    outcome = lint(copy)
    assert outcome.returncode == 1, outcome.stdout
    assert any(contract in said and "BROKEN" in said for said in outcome.stdout.splitlines()), outcome.stdout


def test_a_cycle_inside_one_package_is_caught(copy: Path) -> None:
    (copy / "rollers/one.py").write_text("import rollers.two\n")
    (copy / "rollers/two.py").write_text("import rollers.one\n")
    outcome = lint(copy)
    assert outcome.returncode == 1, outcome.stdout
    assert any("No cycles" in said and "BROKEN" in said for said in outcome.stdout.splitlines()), outcome.stdout


def test_a_root_file_may_see_every_layer(copy: Path) -> None:
    (copy / "plant/planted_root.py").write_text("import rollers, training, plant.audit\n")
    assert lint(copy).returncode == 0
