"""Rules that no single room can keep: imports, docstrings, refusals, names of files, what a commit may hold."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from service import errors
from service.api.problems import STATUS
from service.settings import FOR_TESTS, NAMES

ROOT = Path(__file__).resolve().parents[1]
SERVICE = ROOT / "service"
UNITS = {
    "percent": "%",
    "c": "°C",
    "minutes": "min",
    "days": "d",
    "m": "m",
    "g": "g",
    "kg": "kg",
    "l": "L",
    "ml": "mL",
    "plato": "°P",
}


def modules(*rooms: str) -> list[Path]:
    """The modules of rooms, or of the whole house."""
    folders = [SERVICE / room for room in rooms] if rooms else [SERVICE]
    return sorted(path for folder in folders for path in folder.rglob("*.py"))


def named(path: Path) -> str:
    """A module as people say it: room/subject."""
    return str(path.relative_to(SERVICE).with_suffix(""))


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    """The functions that a module offers."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def test_rooms_import_downstairs_only() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "9 kept, 0 broken" in ran.stdout


@pytest.mark.parametrize("path", modules("science"), ids=named)
def test_formulas_take_names_and_say_units_and_sources(path: Path) -> None:
    for function in public_functions(path):
        where = f"{named(path)}.{function.name}"
        text = ast.get_docstring(function) or ""
        arguments = [argument.arg for argument in function.args.kwonlyargs]
        if path.name in ("checks.py", "series.py") or function.name.startswith("check_"):
            continue
        assert function.args.args == [], f"{where} takes places; put a * first"
        for argument in arguments:
            line = re.search(rf"^\s*{argument}: (.+(?:\n\s{{8,}}.+)*)", text, re.MULTILINE)
            assert line, f"{where} does not tell {argument}"
        assert "Source:" in text, f"{where} names no source"
        assert ">>>" in text, f"{where} shows no example"


@pytest.mark.parametrize("path", modules("science"), ids=named)
def test_the_unit_in_a_formulas_name_is_the_unit_in_its_docstring(path: Path) -> None:
    for function in public_functions(path):
        text = ast.get_docstring(function) or ""
        for argument in function.args.kwonlyargs:
            is_compound = "_per_" in argument.arg or argument.arg.startswith("above_")
            expected = None if is_compound else UNITS.get(argument.arg.rsplit("_", 1)[-1])
            line = re.search(rf"^\s*{argument.arg}: (.+(?:\n\s{{8,}}.+)*)", text, re.MULTILINE)
            told = re.search(r"\[([^\]]+)\]", line.group(1)) if line else None
            if expected and told:
                assert told.group(1).startswith(expected), (
                    f"{named(path)}.{function.name}: {argument.arg} in {told}"
                )


@pytest.mark.parametrize("path", modules(), ids=named)
def test_modules_and_what_they_offer_have_docstrings(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    offered = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and n.name[0] != "_"]

    assert ast.get_docstring(tree), f"{path} has no docstring"
    assert [node.name for node in offered if not ast.get_docstring(node)] == []


def test_no_file_is_a_drawer() -> None:
    drawers = {"utils", "util", "helpers", "common", "misc", "manager"}

    assert [named(path) for path in modules() if path.stem in drawers] == []


def test_every_refusal_has_its_status() -> None:
    kinds = {
        kind
        for kind in vars(errors).values()
        if isinstance(kind, type) and issubclass(kind, errors.Refusal) and kind is not errors.Refusal
    }

    assert {kind.code for kind in kinds - set(STATUS)} == set()
    assert len({kind.code for kind in kinds}) == len(kinds)


def test_every_setting_is_told_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert [name for name in (*NAMES, *FOR_TESTS) if f"`{name}`" not in readme] == []


def tracked() -> list[str]:
    """The files that git keeps; in a checkout without git, nothing can be said."""
    ran = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in ran.stdout.split("\0") if name]


def test_the_top_level_holds_the_eight_names_and_dotfiles() -> None:
    top = {name.split("/")[0] for name in tracked()}
    eight = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "service",
        "migrations",
        "tests",
        "openapi",
        "seed_demo",
    }

    assert {name for name in top if not name.startswith(".")} == eight


def test_no_shipped_figure_rests_on_memory() -> None:
    tables = sorted((SERVICE / "reference" / "data").glob("*.csv"))

    assert len(tables) > 5
    assert [
        t.name for t in tables if re.search(r"(^|,)memory(,|$)", t.read_text(encoding="utf-8"), re.M)
    ] == []


def test_migrations_never_import_the_service() -> None:
    versions = sorted((ROOT / "migrations" / "versions").glob("*.py"))

    assert versions
    assert [
        p.name for p in versions if re.search(r"^\s*(from|import) service", p.read_text("utf-8"), re.M)
    ] == []
    assert not (ROOT / "alembic.ini").exists()
