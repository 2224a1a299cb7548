"""No file outside `--out`: home, the folder for passing files and the current one stay bare."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import planopt
from kitchens import write_kitchen

PACKAGES = str(Path(planopt.__file__).parents[1])
OURS = ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "MPLCONFIGDIR", "PYTHONPATH")
# Where a fresh Python looks for modules that an ordinary one finds under the home folder.
_RUN = (
    "import sys; sys.path[:0] = sys.argv.pop(1).split(':'); from planopt.start import main; main()"
)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="homes are named in the POSIX way")
def test_plan_and_whatif_write_to_out_alone(tmp_path: Path) -> None:
    """A plan with its pictures, and a curve with its own."""
    home, passing, work = (tmp_path / name for name in ("home", "passing", "work"))
    for folder in (home, passing, work):
        folder.mkdir()
    write_kitchen(work)
    before = sorted(os.listdir(work))
    environment = {name: value for name, value in os.environ.items() if name not in OURS}
    environment |= {"HOME": str(home), "TMPDIR": str(passing)}
    places = ":".join([PACKAGES, *(place for place in sys.path if place)])
    for words in (
        ("plan", "scenario.yaml", "--gap", "0.5", "--out", "out/plan"),
        ("whatif", "scenario.yaml", "--base", "out/plan", "--budget-curve", "--points", "3",
         "--curve-time", "1", "--out", "out/whatif"),
    ):  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-P", "-c", _RUN, places, *words, "--quiet"],
            cwd=work, env=environment, capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, "")
    assert (work / "out" / "whatif" / "budget_curve.svg").is_file()
    assert "<svg" in (work / "out" / "plan" / "report.html").read_text(encoding="utf-8")
    assert (os.listdir(home), os.listdir(passing)) == ([], [])
    assert sorted(os.listdir(work)) == sorted([*before, "out"])
    assert sorted(os.listdir(work / "out")) == ["plan", "whatif"]
