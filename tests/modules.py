"""Print the map of the package: every module, what it is for, and what it imports."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import planopt

HOUSE = Path(planopt.__file__).parent


def modules() -> dict[str, Path]:
    """Return every module of the package by its dotted name."""
    found = {}
    for path in sorted(HOUSE.rglob("*.py")):
        parts = ("planopt", *path.relative_to(HOUSE).with_suffix("").parts)
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imports_of(path: Path, known: dict[str, Path]) -> Iterator[str]:
    """Yield what a module imports: modules of planopt, and packages from outside."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            names = [name if name in known else node.module for name in whole]
        else:
            continue
        for name in names:
            outside = name.partition(".")[0]
            if outside == "planopt":
                yield name
            elif outside not in sys.stdlib_module_names:
                yield outside


def module_row(name: str, path: Path, known: dict[str, Path]) -> str:
    """Return a module's name and purpose, and below them what it imports, packages last."""
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    found = set(imports_of(path, known))
    inside = [n.removeprefix("planopt.") for n in sorted(found) if n in known]
    outside = sorted(n for n in found if n not in known)
    return f"{name}: {docstring.splitlines()[0]}\n    {', '.join(inside + outside)}".rstrip()


def main(rooms: list[str]) -> None:
    """Print the modules of some rooms, or of all."""
    known = modules()
    for name, path in known.items():
        if not rooms or any(f"{name}.".startswith(f"planopt.{room}.") for room in rooms):
            print(module_row(name, path, known))


if __name__ == "__main__":
    main(sys.argv[1:])
