"""The packages' own rules: who imports whom, what a command loads, what every module looks like."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("geom", "layouts", "exports")
BELOW = {"geom": set(), "layouts": {"geom"}, "exports": {"geom", "layouts"}}
CAD_KERNELS = ("cadquery", "OCP", "trimesh", "manifold3d")
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
IDS = [str(path.relative_to(ROOT)) for path in MODULES]
MOST_LINES = 800
LAST_RESORTS = ("cli.py", "job_loop.py")
"""The command's, and that of a working process of the local page."""
FORBIDDEN_NAMES = {"utils", "common", "helpers", "manager", "misc"}


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports_of(tree: ast.Module) -> list[str]:
    """Return every imported module's dotted name; a relative import gives one that starts with a dot."""
    names = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names.append("." * node.level + (node.module or ""))
    return names


def run_python(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def loaded_after(code: str, *names: str) -> list[str]:
    """Return which of the modules are loaded in a fresh process once `code` has run."""
    told = run_python(f"{code}\nimport sys\nprint('LOADED', *[n for n in {names!r} if n in sys.modules])")
    return told.rpartition("LOADED")[2].split()


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_imports_run_downwards_and_absolute(path: Path):
    package = path.relative_to(ROOT).parts[0]
    for name in imports_of(tree_of(path)):
        assert not name.startswith("."), f"relative import of {name}"
        top = name.partition(".")[0]
        assert top not in PACKAGES or top == package or top in BELOW[package], f"{package} imports {name}"
        assert top != "tests"


def test_imports_make_no_circle():
    graph: dict[str, set[str]] = {}
    for path in MODULES:
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        # Imports under TYPE_CHECKING or inside functions cannot make a circle at load.
        body = [node for node in tree_of(path).body if isinstance(node, ast.Import | ast.ImportFrom)]
        found = imports_of(ast.Module(body=body, type_ignores=[]))
        for node in body:
            if isinstance(node, ast.ImportFrom) and node.module in PACKAGES:
                found += [f"{node.module}.{alias.name}" for alias in node.names]
        graph[name] = {other for other in found if other.partition(".")[0] in PACKAGES}
    done: set[str] = set()
    while True:
        free = {name for name, needs in graph.items() if name not in done and (needs & graph.keys()) <= done}
        if not free:
            break
        done |= free
    assert done == graph.keys(), f"in a circle: {sorted(graph.keys() - done)}"


def test_layouts_load_no_cad_kernel():
    names = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for path in MODULES
        if path.parts[-2] != "exports" and path.relative_to(ROOT).parts[0] == "layouts"
        if path.name not in ("__init__.py", "__main__.py")
    ]
    code = "import importlib\n" + "\n".join(f"importlib.import_module({name!r})" for name in names)
    # The compiler loads scipy.linalg by itself.
    assert loaded_after(code, *CAD_KERNELS, "skfem", "scipy.sparse", "scipy.optimize") == []


def called_in(tree: ast.AST) -> set[str]:
    """Return the names of all functions that are called."""
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return {call.id for call in calls if isinstance(call, ast.Name)} | {
        call.attr for call in calls if isinstance(call, ast.Attribute)
    }


def test_every_design_rule_is_asked():
    """By what plans and checks call, and these in turn: a rule that nothing leads to never fires."""
    written = {
        function.name
        for path in (ROOT / "layouts" / "rules").glob("*.py")
        for function in public_functions(tree_of(path))
        if function.name.startswith(("check_", "note_"))
    }
    assert len(written) > 80
    calls: dict[str, set[str]] = {}
    for path in MODULES:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef):
                calls.setdefault(node.name, set()).update(called_in(node))
    asked: set[str] = set()
    todo = {"plan_panel", "check_solids"}
    while todo:
        name = todo.pop()
        asked.add(name)
        todo |= calls.get(name, set()) - asked
    assert written - asked == set()


def test_plan_loads_no_cad_kernel_and_no_slow_library():
    code = (
        "from exports.cli import run_command\n"
        "import contextlib, io\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        "    assert run_command(['plan', 'layouts/panels/laser-driver.toml']) in (0, 1)"
    )
    # The first run may have to compute the coolant; the second remembers it.
    run_python(code)
    # The compiler loads scipy.linalg by itself.
    slow = ("skfem", "scipy.sparse", "scipy.optimize", "CoolProp", "networkx", "rich", "fluids", "lxml")
    assert loaded_after(code, *CAD_KERNELS, *slow) == []


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom exports.cli import run_command\n"
        "for words in (['--help'], ['plan', '--help'], ['make', '--help'], ['compare', '--help']):\n"
        "    assert run_command(words) == 0"
    )
    heavy = ("numpy", "numba", "pydantic", "scipy", "shapely", "tomlkit", "rich", "lxml")
    assert loaded_after(code, *CAD_KERNELS, *heavy) == []


def test_top_level_holds_only_what_was_agreed():
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "geom", "layouts", "tests", "exports"}
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode == 0 and done.stdout:
        names = {line.partition("/")[0] for line in done.stdout.splitlines()}
    else:
        names = {path.name for path in ROOT.iterdir()} - {"out", "dist", "demo-out"}
    assert {name for name in names if not name.startswith(".")} <= agreed


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_module_is_documented_named_and_short(path: Path):
    tree = tree_of(path)
    assert ast.get_docstring(tree), "no module docstring"
    assert path.stem not in FORBIDDEN_NAMES
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES
    if path.name == "__init__.py":
        assert len(tree.body) == 1, "an __init__ holds a docstring only"


def public_functions(tree: ast.Module) -> list[ast.FunctionDef]:
    classes = [n for n in tree.body if isinstance(n, ast.ClassDef) and not n.name.startswith("_")]
    functions = [n for owner in (tree, *classes) for n in owner.body if isinstance(n, ast.FunctionDef)]
    return [f for f in functions if not f.name.startswith("_")]


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_public_functions_are_documented(path: Path):
    for function in public_functions(tree_of(path)):
        told = ast.get_docstring(function)
        assert told, f"{function.name} has no docstring"
        if "Parameters\n----------" not in told:
            continue
        section = told.split("Parameters\n----------", 1)[1].split("\n\n", 1)[0]
        named: list[str] = []
        for line in section.splitlines():
            if line and not line.startswith(" "):
                named += [name.strip().lstrip("*") for name in line.partition(" : ")[0].split(",")]
        arguments = function.args
        every = [a.arg for a in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)]
        every += [a.arg for a in (arguments.vararg, arguments.kwarg) if a is not None]
        assert named == [name for name in every if name not in ("self", "cls")], function.name


@pytest.mark.parametrize("path", MODULES, ids=IDS)
def test_only_the_last_resort_catches_everything(path: Path):
    broad = [
        node.lineno
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or (isinstance(node.type, ast.Name) and node.type.id.endswith("Exception")))
        and not (isinstance(node.type, ast.Name) and node.type.id == "ClickException")
    ]
    assert len(broad) <= (1 if path.name in LAST_RESORTS else 0), f"line {broad}"
