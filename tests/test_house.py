"""The house has one direction: what a module may import, read from its import statements.

faults, units <- reading <- catalog <- scenario <- problem <- model <- solve. Plan, cookday, carry,
audit and report stand beside these with their own short lists, whynot above all of them, and
pipeline above that. Through it runs plans many kitchens, and whatif changed ones; overview reads
what runs has written; front gathers them for `import planopt`, and cli is on top. Intake stands on
reading and the catalog alone.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import planopt

HOUSE = Path(planopt.__file__).parent
TESTS = Path(__file__).resolve().parent
MOST_LINES = 450

_GROUND = (
    "currencies",
    "letters",
    "faults",
    "units",
    "folders",
    "interrupts",
    "deadlines",
    "ranges",
    "tolerances",
    "locales",
)
_CATALOG = (*_GROUND, "reading", "catalog")
_SCENARIO = (*_CATALOG, "scenario")
_PROBLEM = (*_SCENARIO, "problem")
_MODEL = (*_PROBLEM, "model")
_TOP = ("pipeline", "cli", "start", "__main__")
# Part of the house -> what it may import from the top.
ABOVE_PIPELINE = dict.fromkeys(("front", "runs", "whatif", "adjust"), ("pipeline",))

# Part of the house -> the parts and modules it may import besides itself.
ALLOWED: dict[str, tuple[str, ...]] = {
    "letters": (),
    "faults": ("letters",),
    "currencies": (),
    "ranges": (),
    "locales": ("faults",),
    "units": ("currencies",),
    "tolerances": (),
    "diskcalls": (),
    "folders": ("diskcalls", "faults", "interrupts", "letters"),
    "interrupts": (),
    "streams": (),
    "drawing": (),
    "guide": ("faults",),
    "deadlines": (),
    "starter": ("faults", "folders"),
    "reading": _GROUND,
    "catalog": (*_GROUND, "reading"),
    "scenario": _CATALOG,
    "problem": _SCENARIO,
    # Plain numbers alone come this far: no record of a scenario or a catalog.
    "model": (*_GROUND, "problem"),
    "solve": (*_GROUND, "catalog.records.Record", "problem", "model"),
    "plan": _PROBLEM,
    "cookday": (*_SCENARIO, "plan.records"),
    "carry": (*_SCENARIO, "plan.records"),
    "writing": _CATALOG,
    "targets": (*_CATALOG, "writing"),
    "intake": (*_CATALOG, "writing"),
    "adding": (*_SCENARIO, "writing", "intake"),
    "facts": (*_CATALOG, "report.analysis.labelrules", "report.analysis.swaps.cheapest_packs"),
    "front": (
        *_SCENARIO,
        "adding",
        "adjust",
        "audit.Finding",
        "carry",
        "edit",
        "facts",
        "guide",
        "intake",
        "overview",
        "pipeline",
        "plan",
        "report",
        "runs",
        "solve.progress",
        "solve.settings",
        "starter",
        "targets",
        "whatif",
    ),
    # The door: names at their functions in the front.
    "": ("front",),
    "audit": (
        "faults",
        "units",
        "catalog.records",
        "scenario.records",
        "scenario.byhand",
        "scenario.ready",
        "plan.records",
        "cookday.records",
    ),
    "report": (
        *_SCENARIO,
        "drawing",
        "model.covers",
        "solve.progress",
        "plan.records",
        "plan.file",
        "cookday",
        "plan.split",
        "plan.handles",
        "audit.Finding",
        "audit.findings.Finding",
        "plan.cautions.STANDING",
    ),
    "runs": (
        *_SCENARIO,
        "carry",
        "solve.settings",
        "plan.records",
        "plan.file",
        "report.files.folder",
        "report.words.locale",
        "pipeline",
    ),
    "overview": (
        *_SCENARIO,
        "plan.records",
        "plan.file",
        "plan.split",
        "plan.handles",
        "plan.cautions.STANDING",
        "report",
        "runs.layout",
        "runs.records",
        "runs.run.RunMoment",
    ),
    "whynot": (*_MODEL, "solve", "plan", "audit"),
    "adjust": (
        *_MODEL,
        "solve",
        "plan",
        "audit",
        "report",
        "whynot",
        "whatif.direction",
        "carry",
        "writing",
        "pipeline",
    ),
    "edit": (
        *_PROBLEM,
        "adjust",
        "plan.records",
        "plan.reread",
        "report",
        "solve.settings",
    ),
    "whatif": (*_MODEL, "drawing", "solve", "plan", "audit", "report", "whynot", "pipeline"),
}

# Part of the house -> its rooms; a room imports from those before it, and modules outside of rooms
# are the ground that all of them stand on.
ROOMS = {
    "scenario": ("checks", "variants", "reading", "households"),
    "solve": ("highs", "bounding", "limits", "annealing", "heuristics", "engine"),
    "report": ("words", "analysis", "markdown", "page", "files", "terminal"),
}

# Outside package -> the places that may import it.
FENCED = {
    "highspy": ("solve", "pipeline"),
    "pulp": ("model", "solve.highs.matrix"),
    "distributed": ("runs.cluster",),
    "matplotlib": ("drawing", "report.page.figures"),
}

MODULES = sorted(HOUSE.rglob("*.py"))


def _dotted(path: Path) -> str:
    """Return the module's name without `planopt.`; a package is named by its folder."""
    parts = path.relative_to(HOUSE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def _imports(path: Path) -> tuple[str, ...]:
    """Return every imported name in full, e.g. `planopt.units.to_minor`, wherever it stands."""
    return tuple(_imported(path))


def _imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} has a relative import"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _within(name: str, places: tuple[str, ...]) -> bool:
    return any(name == place or name.startswith(f"{place}.") for place in places)


def _id(path: Path) -> str:
    return _dotted(path) or "planopt"


BELOW_TOP = [path for path in MODULES if _dotted(path).split(".")[0] not in _TOP]


@pytest.mark.parametrize("path", BELOW_TOP, ids=_id)
def test_a_module_imports_only_what_stands_below_it(path: Path) -> None:
    """No import statement points up the house, or sideways past its list."""
    part = _dotted(path).split(".")[0]
    allowed = (part, "__version__", *ALLOWED.get(part, ()))
    inner = [name.removeprefix("planopt.") for name in _imports(path) if name.startswith("planopt")]
    assert [name for name in inner if not _within(name, allowed)] == []


@pytest.mark.parametrize("part", ROOMS)
def test_rooms_of_a_part_have_one_direction(part: str) -> None:
    """A module imports only rooms before its own; the ground imports none."""
    rooms = ROOMS[part]
    inside = {path.name for path in (HOUSE / part).iterdir() if (path / "__init__.py").exists()}
    assert inside == set(rooms)
    for path in sorted((HOUSE / part).rglob("*.py")):
        room = path.relative_to(HOUSE / part).parts[0]
        last = rooms.index(room) + 1 if room in rooms else 0
        later = tuple(f"planopt.{part}.{name}" for name in rooms[last:])
        assert [name for name in _imports(path) if _within(name, later)] == [], _dotted(path)


def test_every_part_of_the_house_has_its_rule() -> None:
    """A new part must say what it may import before it is let in."""
    parts = {_dotted(path).split(".")[0] for path in MODULES} - {""}
    assert parts <= set(ALLOWED) | set(_TOP)


def test_nothing_imports_the_top() -> None:
    """The library does not know its command line; only it, runs and whatif know the pipeline."""
    for path in MODULES:
        if _dotted(path).split(".")[0] not in _TOP:
            allowed = ABOVE_PIPELINE.get(_dotted(path).split(".")[0], ())
            tops = [
                name
                for name in (n.removeprefix("planopt.") for n in _imports(path))
                if _within(name, _TOP) and not _within(name, allowed)
            ]
            assert tops == [], f"{_dotted(path)} imports {tops}"


def test_what_if_is_used_by_front_and_command_line_alone() -> None:
    """What stands above the pipeline is not reached into from below."""
    users = {
        _dotted(path).split(".")[0]
        for path in MODULES
        if any(_within(name, ("planopt.whatif",)) for name in _imports(path))
    }
    assert users == {"whatif", "adjust", "front", "cli"}


@pytest.mark.parametrize("package", FENCED)
def test_solver_packages_stay_within_their_fence(package: str) -> None:
    """Exactly the fenced places may touch the solver and the modelling layer."""
    users = {_dotted(path) for path in MODULES if _within_any(path, package)}
    assert users, f"nothing imports {package} any more; drop its fence"
    assert [user for user in sorted(users) if not _within(user, FENCED[package])] == []


def _within_any(path: Path, package: str) -> bool:
    return any(_within(name, (package,)) for name in _imports(path))


@pytest.mark.parametrize("path", MODULES, ids=_id)
def test_a_module_is_short_and_its_public_names_are_described(path: Path) -> None:
    """Modules stay below 450 lines; each, and each public function and class, has a docstring."""
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) < MOST_LINES
    tree = ast.parse(text)
    assert ast.get_docstring(tree), "the module has no docstring"
    assert list(_undescribed(tree)) == []


MOST_FUNCTION_LINES = 50
MOST_PARAMETERS = 7
# Functions that may have more parameters, with the reason. Of commands the body alone is short.
MORE_PARAMETERS = {
    "solve.annealing": "flat arrays, as the head of kernel.py says why",
    "cli": "the parameters of a command are its options",
}
# Functions that may be longer, with the reason.
LONGER = {
    "solve.annealing.kernel.anneal": "the compiled loop, whose parts are inlined calls",
    "solve.annealing.kernel.account": "the compiled account, with one block for each of its arrays",
}


def _functions(node: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Yield all functions and methods, those within others too."""
    for child in ast.walk(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            yield child


def _is_command(function: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    """Tell whether a function takes its parameters from options of the command line."""
    told = (a.annotation for a in (*function.args.args, *function.args.kwonlyargs))
    return any("typer." in ast.unparse(one) for one in told if one is not None)


def _parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    return len(names) - (names[:1] in (["self"], ["cls"]))


@pytest.mark.parametrize("path", MODULES, ids=_id)
def test_functions_are_short_and_have_few_parameters(path: Path) -> None:
    """At most 50 lines and seven parameters: more than that has parts with names of their own."""
    module = _dotted(path)
    long, wide = [], []
    for function in _functions(ast.parse(path.read_text(encoding="utf-8"))):
        name = f"{module}.{function.name}"
        command = module.startswith("cli") and _is_command(function)
        first = function.body[0].lineno if command else function.lineno
        if (function.end_lineno or 0) - first + 1 > MOST_FUNCTION_LINES and name not in LONGER:
            long.append(name)
        if _parameters(function) > MOST_PARAMETERS:
            if command or _within(module, ("solve.annealing",)):
                continue
            wide.append(name)
    assert long == []
    assert wide == []


def test_exceptions_for_functions_are_still_needed() -> None:
    """Whoever splits one takes it off the list."""
    for name in LONGER:
        module, function_name = name.rsplit(".", 1)
        path = HOUSE.joinpath(*module.split(".")).with_suffix(".py")
        found = {f.name: f for f in _functions(ast.parse(path.read_text(encoding="utf-8")))}
        function = found[function_name]
        assert (function.end_lineno or 0) - function.lineno + 1 > MOST_FUNCTION_LINES, name


# Rooms in which a module implements one method of the textbooks, or says that no paper is followed.
METHODS = ("solve.bounding", "solve.heuristics", "solve.limits")


@pytest.mark.parametrize(
    "path",
    [p for p in MODULES if p.name != "__init__.py" and _within(_dotted(p), METHODS)],
    ids=_id,
)
def test_a_method_is_named_with_its_source(path: Path) -> None:
    """Whoever knows the field finds the method by its name, and where it comes from."""
    told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    assert "Method: " in told
    assert "Source: " in told


def test_no_two_classes_have_one_name() -> None:
    """A name is looked up in one place. The audit shares nothing, so it has names of its own."""
    places: dict[str, list[str]] = {}
    for path in MODULES:
        if not _within(_dotted(path), ("audit",)):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                    places.setdefault(node.name, []).append(_dotted(path))
    assert {name: found for name, found in places.items() if len(found) > 1} == {}


def test_a_rule_is_written_in_few_places() -> None:
    """Meals of a group, the worked example of DEVELOPERS.md: five modules name it, no more."""
    words = ("most_meals_of", "most_of_group", "dish.groups")
    users = {_dotted(p) for p in MODULES if any(w in p.read_text(encoding="utf-8") for w in words)}
    assert users == {
        "scenario.records", "scenario.checks.whole", "problem.limits", "problem.rules",
        "audit.nutrition",
    }  # fmt: skip


def _undescribed(node: ast.Module | ast.ClassDef) -> Iterator[str]:
    """Yield public functions, classes and their methods that have no docstring."""
    for child in node.body:
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            if child.name.startswith("_"):
                continue
            if not ast.get_docstring(child):
                yield child.name
            if isinstance(child, ast.ClassDef):
                yield from (f"{child.name}.{name}" for name in _undescribed(child))


# ------------------------------------------------------------------ the tests themselves


def _returns(function: ast.FunctionDef) -> Iterator[ast.Return]:
    """Yield the returns of a function, not those of functions within it."""
    left: list[ast.AST] = list(function.body)
    while left:
        node = left.pop()
        if isinstance(node, ast.Return):
            yield node
        elif not isinstance(node, (ast.FunctionDef, ast.Lambda, ast.ClassDef)):
            left += ast.iter_child_nodes(node)


def test_no_test_returns_before_its_end() -> None:
    """A test that may return early may have looked at nothing.

    Give it inputs where it cannot (`model/chosen.py`), let it skip with its reason, or assert on
    both sides of an `else`.
    """
    found = [
        f"{path.relative_to(TESTS)}: {node.name}"
        for path in sorted(TESTS.rglob("test_*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        if any(_returns(node))
    ]
    assert found == []
