"""The house: which room may import which, how long a module may be, what stands at the top."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FOUNDATION = ("schema", "errors", "settings")
ROOMS = (
    "stats",
    "intake",
    "meaning",
    "store",
    "context",
    "ground",
    "analysis",
    "advice",
    "planning",
    "report",
    "lab",
    "cli",
)
MODULES = sorted(path for top in ("eventlab", "dashboards") for path in (ROOT / top).rglob("*.py"))


def _imports(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def _room(name: str) -> str | None:
    parts = name.split(".")
    inside = parts[0] == "eventlab" and len(parts) > 1 and not parts[1].startswith("__")
    return parts[1] if inside else None


def _breach(path: Path) -> str | None:
    """Tell which rule a module breaks, if any."""
    inside = path.relative_to(ROOT).parts
    imports = _imports(path)
    used = {room for name in imports if (room := _room(name))}
    if inside[0] == "dashboards":
        screen = used <= {"lab", "errors", *FOUNDATION}
        return None if screen else "a screen asks the lab, nothing else"
    outside = {name.split(".")[0] for name in imports}
    if "dashboards" in outside:
        return "nothing in the library knows the screens"
    here = inside[1].removesuffix(".py")
    allowed = used
    if here == "simulate":
        allowed = {"simulate", "schema", "context", "errors"}
    elif here in FOUNDATION:
        allowed = {here, "schema"}
    elif here in ROOMS:
        above = ROOMS[: ROOMS.index(here) + 1]
        allowed = {*above, *FOUNDATION} | ({"simulate"} if here in {"lab", "cli"} else set())
    if not used <= allowed:
        return f"a room imports only rooms above it, not {sorted(used - allowed)}"
    return "no polars in stats" if here == "stats" and "polars" in imports else None


def test_a_room_imports_only_rooms_above_it():
    assert len(MODULES) > 100
    found = {str(path.relative_to(ROOT)): _breach(path) for path in MODULES}
    assert {path: breach for path, breach in found.items() if breach} == {}


def test_a_module_has_one_purpose_and_under_400_lines():
    long = [path for path in MODULES if len(path.read_text("utf-8").splitlines()) >= 400]
    assert long == []


def test_only_what_belongs_stands_at_the_top():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    files = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    folders = {"eventlab", "dashboards", "tests", "sample_logs"}
    assert {top for top in tops if not top.startswith(".")} <= files | folders


def test_help_starts_without_the_heavy_libraries():
    heavy = {"polars", "numpy", "scipy", "pvlib", "deltalake", "dash", "plotly", "sklearn"}
    code = (
        "import sys, eventlab.cli;"
        f"print(sorted({heavy!r} & {{name.split('.')[0] for name in sys.modules}}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
