"""Would the tests notice? Each mutant of `mutants.py` is planted in a copy of the house and tested.

    python tests/benchmarks/mutation.py                    all of them
    python tests/benchmarks/mutation.py --only swaps       those whose name or file has the word

A mutant is *killed* if one of the tests named for it fails, and *survives* if all pass. One whose
text stands no more in its file is *stale*: it counts as not killed until somebody mends the list.
The tests named must pass without any mutant, which is tried first.
"""

from __future__ import annotations

import argparse
import importlib
import os
import resource
import shutil
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from signal import SIGKILL
from tempfile import TemporaryDirectory
from time import monotonic, perf_counter, sleep
from typing import NoReturn

import pytest

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT)]
_OURS = (str(ROOT / "tests"), str(ROOT), "")

from benchmarks.mutants import MUTANTS, Mutant  # noqa: E402

_COPIED = ("planopt", "tests", "catalogs", "scenarios", "README.md", "DEVELOPERS.md",
           "pyproject.toml")  # fmt: skip
_SECONDS = 300
_MOST_BYTES = 8 * 10**9
# What takes long to load, and is no part of the house.
_LIBRARIES = ("jinja2", "matplotlib", "numba", "numpy", "openpyxl", "pandas", "pulp",
              "pydantic", "typer", "xlsxwriter", "yaml")  # fmt: skip
# What pytest answers when all tests pass, and when some fail.
_PASSED, _FAILED = 0, 1


def copied(place: Path) -> Path:
    """Copy the house to a folder and return it; compiled code goes along, as it is slow to make."""
    for name in _COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name)
        else:
            shutil.copy2(source, place / name)
    return place


def passes(house: Path, tests: Sequence[str]) -> tuple[int, str]:
    """Run tests in a copy of the house until one fails; return pytest's answer and its output.

    The process is a fork of this one, which has the libraries that take long to load, and nothing
    of the house.
    """
    told = house / "output.txt"
    child = os.fork()
    if child == 0:
        _become_pytest(house, tests, told)
    until = monotonic() + _SECONDS
    while monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status), told.read_text(encoding="utf-8")
        sleep(0.05)
    os.kill(child, SIGKILL)
    os.waitpid(child, 0)
    return _FAILED, f"no answer in {_SECONDS} s"


def _become_pytest(house: Path, tests: Sequence[str], told: Path) -> NoReturn:
    answer = 70
    try:
        with told.open("wb") as file:
            for stream in (1, 2):
                os.dup2(file.fileno(), stream)
        # A mutant may never end, and fill the memory meanwhile.
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))
        os.chdir(house)
        sys.path[:] = [str(house / "tests"), str(house), *(p for p in sys.path if p not in _OURS)]
        for name in [n for n in sys.modules if n.split(".")[0] in ("benchmarks", "planopt")]:
            del sys.modules[name]
        os.environ["PYTHONPATH"] = str(house)
        # Bytecode is found stale by size and second, which a mutant need not change.
        sys.dont_write_bytecode = True
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
        answer = int(pytest.main(["-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests]))
        sys.stdout.flush()
    finally:
        os._exit(answer)


def fate_of(mutant: Mutant, house: Path) -> tuple[str, str]:
    """Plant one mutant, run its tests, take it out again; return its fate and a word about it."""
    path = house / "planopt" / mutant.file
    text = path.read_text(encoding="utf-8")
    planted = mutant.planted(text)
    if planted is None:
        return "stale", f"its text stands {text.count(mutant.old)} times in {mutant.file}"
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.cpython-*.pyc"):
        compiled.unlink()
    path.write_text(planted, encoding="utf-8")
    try:
        answer, told = passes(house, mutant.tests)
    finally:
        path.write_text(text, encoding="utf-8")
    if answer == _PASSED:
        return "survived", ""
    failed = [line for line in told.splitlines() if line.startswith("FAILED")]
    if answer == _FAILED and (failed or "no answer" in told):
        return "killed", failed[0].split(" - ")[0].removeprefix("FAILED ") if failed else told
    # A mutant that cannot even be imported says nothing about the tests.
    return "broken", told[-400:]


def main() -> int:
    """Run the mutants asked for and print the score; 0 only if each was killed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--only", default="", help="a word in the name or the file")
    parser.add_argument("--skip-check", action="store_true", help="do not test the unchanged house")
    asked = parser.parse_args()
    chosen = [m for m in MUTANTS if asked.only in m.name or asked.only in m.file]
    for library in _LIBRARIES:
        importlib.import_module(library)
    began = perf_counter()
    fates: Counter[str] = Counter()
    with TemporaryDirectory() as place:
        house = copied(Path(place))
        tests = sorted({test for mutant in chosen for test in mutant.tests})
        if not asked.skip_check:
            answer, told = passes(house, tests)
            if answer != _PASSED:
                print(f"The tests do not pass without a mutant:\n{told[-2000:]}")
                return 1
            print(f"{len(tests)} tests and files pass without a mutant.", flush=True)
        for mutant in chosen:
            fate, word = fate_of(mutant, house)
            fates[fate] += 1
            print(f"{fate:9} {mutant.file}: {mutant.name}  [{word}]", flush=True)
    minutes = (perf_counter() - began) / 60
    print(f"{fates['killed']} of {len(chosen)} killed in {minutes:.0f} minutes; {dict(fates)}")
    return 0 if fates["killed"] == len(chosen) else 1


if __name__ == "__main__":
    sys.exit(main())
