"""Rules that no single room can keep: imports, docstrings, refusals, names of files, what a commit may hold."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

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


def formulas() -> Iterator[tuple[str, ast.FunctionDef, str]]:
    """Every formula of science: its place, its function, its docstring."""
    for path in modules("science"):
        for function in public_functions(path):
            if path.name not in ("checks.py", "series.py") and not function.name.startswith("check_"):
                yield f"{named(path)}.{function.name}", function, ast.get_docstring(function) or ""


def described(argument: str, text: str) -> str | None:
    """What a docstring says of an argument."""
    line = re.search(rf"^\s*{argument}: (.+(?:\n\s{{8,}}.+)*)", text, re.MULTILINE)
    return line.group(1) if line else None


def test_formulas_take_keywords_and_describe_arguments_and_sources() -> None:
    found = list(formulas())

    assert len(found) > 100
    assert [where for where, function, _ in found if function.args.args] == []
    assert [
        (where, argument.arg)
        for where, function, text in found
        for argument in function.args.kwonlyargs
        if described(argument.arg, text) is None
    ] == []
    assert [where for where, _, text in found if "Source:" not in text] == []
    assert [where for where, _, text in found if ">>>" not in text] == []


def test_the_unit_in_an_arguments_name_is_the_unit_in_its_docstring() -> None:
    wrong = []
    for where, function, text in formulas():
        for argument in function.args.kwonlyargs:
            is_compound = "_per_" in argument.arg or argument.arg.startswith("above_")
            expected = None if is_compound else UNITS.get(argument.arg.rsplit("_", 1)[-1])
            unit = re.search(r"\[([^\]]+)\]", described(argument.arg, text) or "")
            if expected and unit and not unit.group(1).startswith(expected):
                wrong.append((where, argument.arg, unit.group(1)))

    assert wrong == []


def test_modules_and_their_public_names_have_docstrings() -> None:
    bare = []
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        public = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and n.name[0] != "_"]
        bare += [named(path)] if not ast.get_docstring(tree) else []
        bare += [f"{named(path)}.{node.name}" for node in public if not ast.get_docstring(node)]

    assert bare == []


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
