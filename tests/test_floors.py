"""The floors of the house: a room may use rooms on lower floors only, and no circle stands."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "benchside"

# A room and its floor. Rooms on one floor may not use each other, but for what is in BESIDE.
FLOORS = {
    "benchside": 0,
    "benchside.errors": 0,
    "benchside.units": 0,
    "benchside.moments": 0,
    "benchside.sources": 0,
    "benchside.resources": 0,
    "benchside.wood": 1,
    "benchside.stock": 1,
    "benchside.consistency": 1,
    "benchside.pattern": 2,
    "benchside.joint": 2,
    "benchside.lathe": 3,
    "benchside.draw": 3,
    "benchside.paper": 3,
    "benchside.store": 3,
    "benchside.job": 4,
    "benchside.web": 5,
    "benchside.cli": 6,
    "benchside.__main__": 7,
}
BESIDE = {("benchside.units", "benchside.errors"), ("benchside.paper", "benchside.draw")}
CORE = [
    *("benchside.errors", "benchside.units", "benchside.moments"),
    *("benchside.wood", "benchside.stock", "benchside.consistency"),
    *("benchside.pattern", "benchside.joint", "benchside.lathe"),
    *("benchside.draw", "benchside.paper"),
]
# What the core has no business with: files, clocks, networks, the web, the database.
FORBIDDEN_IN_CORE = {
    *("benchside.store", "benchside.job", "benchside.web", "benchside.cli"),
    *("fastapi", "starlette", "uvicorn", "jinja2", "click", "platformdirs"),
    *("sqlite3", "sqlite_utils", "socket", "http", "urllib", "asyncio", "threading", "subprocess"),
    *("time", "random", "secrets", "os", "tempfile", "shutil"),
}
SQL = re.compile(
    r"\b(SELECT\s.+\sFROM|INSERT\s+INTO|UPDATE\s+\w+\s+SET|DELETE\s+FROM|CREATE\s+TABLE|PRAGMA)\b",
    re.DOTALL,
)
EVERYWHERE = sorted(PACKAGE.rglob("*.py"))


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in EVERYWHERE}


def room(module: str) -> str:
    """The room a module belongs to: the longest name in FLOORS that it begins with."""
    parts = module.split(".")
    names = (".".join(parts[:n]) for n in range(len(parts), 0, -1))
    return next(
        name for name in names if name in FLOORS and (name != "benchside" or len(parts) == 1)
    )


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


@cache
def imports(path: Path, *, while_typing: bool = False) -> tuple[str, ...]:
    """Every module that a file imports, also inside functions."""
    return tuple(_imports(path, while_typing))


def _imports(path: Path, while_typing: bool) -> Iterator[str]:
    tree = parsed(path)
    skipped: set[ast.AST] = set()
    if not while_typing:
        for node in ast.walk(tree):
            if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
                skipped.update(n for statement in node.body for n in ast.walk(statement))
    for node in ast.walk(tree):
        if node in skipped:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import hides where it leads"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole in MODULES else str(node.module)


def test_every_module_is_in_a_room_that_has_a_floor() -> None:
    for module in MODULES:
        assert room(module) in FLOORS


@pytest.mark.parametrize("module", MODULES)
def test_no_import_climbs(module: str) -> None:
    here = room(module)
    for imported in imports(MODULES[module], while_typing=True):
        if imported.split(".")[0] != "benchside":
            continue
        there = room(imported)
        lower = FLOORS[there] < FLOORS[here] or there in ("benchside", here)
        assert lower or (here, there) in BESIDE, f"{module} imports {imported}"


def test_no_circle_of_imports_stands() -> None:
    graph = {
        module: {name for name in imports(path) if name in MODULES and name != module}
        for module, path in MODULES.items()
    }
    done: set[str] = set()

    def walk(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join((*way, module))
        if module not in done:
            for imported in graph[module]:
                walk(imported, (*way, module))
            done.add(module)

    for module in graph:
        walk(module, ())


@pytest.mark.parametrize("module", [m for m in MODULES if room(m) in CORE])
def test_the_core_touches_no_database_no_clock_no_file_and_no_network(module: str) -> None:
    path = MODULES[module]
    for imported in imports(path, while_typing=True):
        whole = {imported, imported.split(".")[0], ".".join(imported.split(".")[:2])}
        assert not whole & FORBIDDEN_IN_CORE, f"{module} imports {imported}"
    called = {
        ast.unparse(node.func) for node in ast.walk(parsed(path)) if isinstance(node, ast.Call)
    }
    for name in ("open", "datetime.now", "date.today", "datetime.utcnow", "print", "input"):
        assert name not in called, f"{module} calls {name}"


@pytest.mark.parametrize("module", [m for m in MODULES if room(m) != "benchside.store"])
def test_every_line_of_sql_is_in_the_store(module: str) -> None:
    tree = parsed(MODULES[module])
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            assert not SQL.search(node.value), f"{module}, line {node.lineno}: {node.value!r}"
    assert "sqlite3" not in set(imports(MODULES[module]))


@pytest.mark.parametrize("module", [m for m in MODULES if room(m) == "benchside.job"])
def test_the_verbs_of_the_job_know_no_request(module: str) -> None:
    for imported in imports(MODULES[module], while_typing=True):
        assert imported.split(".")[0] not in {"fastapi", "starlette", "uvicorn", "jinja2", "click"}


def test_this_test_can_fail(tmp_path: Path) -> None:
    climbing = tmp_path / "climbing.py"
    climbing.write_text("def f():\n    from benchside.web import app\n", "utf-8")
    assert list(imports(climbing)) == ["benchside.web.app"]
    assert room("benchside.web.app") == "benchside.web"
    assert FLOORS[room("benchside.web.app")] > FLOORS[room("benchside.store.sets")]
    assert SQL.search("SELECT name\nFROM reading")
    assert not SQL.search("Select one of these from the list")
