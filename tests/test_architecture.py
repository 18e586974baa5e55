"""The house keeps its shape: sizes, documented names, one owner for each thing with a cost."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("calibration", "assess", "tracing", "rimspan", "sample_images", "benchmarks")
SHIPPED = ("calibration", "assess", "tracing", "rimspan")
FILE_LINES, FUNCTION_LINES, PAGE_LINES = 300, 40, 80

Function = ast.FunctionDef | ast.AsyncFunctionDef


def sources(*packages: str) -> list[Path]:
    found = [path for package in packages for path in sorted((ROOT / package).rglob("*.py"))]
    assert found, f"no sources in {packages}"
    return found


def everything() -> list[Path]:
    single = [path for path in (ROOT / "app.py", ROOT / "start.py") if path.exists()]
    return [*sources(*PACKAGES), *single]


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def body_lines(function: Function) -> int:
    """Return a function's lines from ``def`` to its end, without its docstring."""
    total = (function.end_lineno or function.lineno) - function.lineno + 1
    if ast.get_docstring(function, clean=False) is None:
        return total
    first = function.body[0]
    return total - ((first.end_lineno or first.lineno) - first.lineno + 1)


def functions(path: Path) -> Iterator[Function]:
    yield from (node for node in ast.walk(tree(path)) if isinstance(node, Function))


def imported(path: Path) -> set[str]:
    """Return the absolute names of the modules a file imports, wherever it does so."""
    found: set[str] = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name(path)}: import by the full name"
            found.add(node.module or "")
    return found


def users(package: str) -> set[str]:
    """Return the files that import a package or anything in it."""
    return {
        name(path)
        for path in everything()
        if any(module == package or module.startswith(f"{package}.") for module in imported(path))
    }


def test_files_are_short() -> None:
    long = {name(p): n for p in everything() if (n := len(p.read_text().splitlines())) > FILE_LINES}
    assert not long


def test_functions_are_short() -> None:
    long = {
        f"{name(path)}:{function.lineno} {function.name}": size
        for path in everything()
        for function in functions(path)
        if (size := body_lines(function)) > FUNCTION_LINES
    }
    assert not long


def test_pages_are_short() -> None:
    pages = [p for p in sources("rimspan/screens") if "pages" in p.parts or p.stem.endswith("page")]
    assert pages, "the screens have no pages"
    long = {name(p): n for p in pages if (n := len(p.read_text().splitlines())) > PAGE_LINES}
    assert not long


def public_nodes(module: ast.Module) -> Iterator[tuple[str, ast.AST]]:
    """Yield the public classes and functions of a module and of its public classes."""
    for node in module.body:
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                yield from (
                    (f"{node.name}.{inner.name}", inner)
                    for inner in node.body
                    if isinstance(inner, Function) and not inner.name.startswith("_")
                )


def test_public_names_are_documented() -> None:
    bare = [
        f"{name(path)}: {label}"
        for path in everything()
        if "migrations" not in path.parts
        for label, node in [("the module", tree(path)), *public_nodes(tree(path))]
        if isinstance(node, Function | ast.ClassDef | ast.Module) and not ast.get_docstring(node)
    ]
    assert not bare


def test_one_module_touches_the_session_state() -> None:
    touching = {
        name(path)
        for path in everything()
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Attribute) and node.attr == "session_state"
    }
    assert touching == {"rimspan/screens/state.py"}


def test_only_the_screens_know_streamlit() -> None:
    found = users("streamlit")
    outside = {u for u in found if u != "app.py" and not u.startswith("rimspan/screens/")}
    assert found, "nothing uses Streamlit"
    assert not outside


def test_only_the_client_file_knows_sql() -> None:
    found = users("sqlalchemy") | users("alembic") | users("sqlite3") | users("psycopg")
    assert found, "nothing uses SQL"
    assert not {user for user in found if not user.startswith("rimspan/clientfile/")}


@pytest.mark.parametrize("package", SHIPPED)
def test_what_is_shipped_knows_nothing_of_the_sample_images(package: str) -> None:
    for path in sources(package):
        assert not {m for m in imported(path) if m.split(".")[0] in {"sample_images", "benchmarks"}}


@pytest.mark.parametrize("package", ["calibration", "assess", "tracing"])
def test_the_core_touches_no_files(package: str) -> None:
    """The two schemas and cards are data beside their modules, read by importlib.resources."""
    allowed = {"importlib.resources"}
    barred = {"pathlib", "os", "tempfile", "shutil", "subprocess", "socket", "urllib", "requests"}
    for path in sources(package):
        found = {m for m in imported(path) - allowed if m.split(".")[0] in barred}
        opened = [
            node
            for node in ast.walk(tree(path))
            if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "open"
        ]
        assert not found, name(path)
        assert not opened, name(path)


def test_nothing_is_called_utils() -> None:
    vague = {"utils", "util", "helpers", "misc", "common"}
    assert not [name(p) for p in everything() if vague & {p.stem, *p.relative_to(ROOT).parts}]


def test_the_import_contracts_are_kept() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_the_measure_of_a_function_leaves_its_docstring_out() -> None:
    text = 'def f(x):\n    """One.\n\n    Two.\n    """\n    y = x\n    return y\n'
    node = ast.parse(text).body[0]
    assert isinstance(node, ast.FunctionDef)
    assert body_lines(node) == 3
