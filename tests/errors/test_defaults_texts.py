"""A file of defaults at fault: every fault at once, each with its exact text."""

from __future__ import annotations

from pathlib import Path

import pytest

from planopt.faults import BadInput
from planopt.scenario.defaults import DEFAULTS_FILE, defaults_for, read_defaults
from planopt.scenario.households.paths import check_paths

FAULTY = """\
locale: xxxxxxxxxx
units: imperial
label_sheet: {columns: 9}
papers: a4
"""
TEXTS = [
    """1: locale: 'xxxxxxxxxx' [unknown_locale]
    why: this is no locale
    mend: write one such as en_US or de_DE""",
    """2: units: 'imperial' [not_a_choice]
    why: this is not one of the values allowed here
    mend: use one of: metric, recipe, us""",
    """3: label_sheet.columns: '9' [label_sheet_misfit]
    why: the labels and gaps need 878 mm across, the page is 210 mm wide
    mend: use fewer or smaller labels, or smaller gaps and margins""",
    """4: papers: 'papers' [unknown_field]
    why: there is no such field here
    mend: did you mean 'paper'?""",
]


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """Misspelt fields, unknown words, a locale that is none, labels that fit no page."""
    file = tmp_path / DEFAULTS_FILE
    file.write_text(FAULTY, encoding="utf-8")
    found, faults = read_defaults(file)
    assert found is None
    assert [fault.text() for fault in sorted(faults)] == [f"{file}:{text}" for text in TEXTS]
    assert check_paths([tmp_path]) == sorted(faults), "`planopt check` looks at it as well"


def test_a_file_that_is_named_has_to_be_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What `PLANOPT_DEFAULTS` names is asked for; no other place is tried."""
    file = tmp_path / "mine.yaml"
    monkeypatch.setenv("PLANOPT_DEFAULTS", str(file))
    with pytest.raises(BadInput) as caught:
        defaults_for()
    (fault,) = caught.value.faults
    assert fault.text() == (
        f"{file}: 'mine.yaml' [file_missing]\n    why: there is no such file\n    mend: create it"
    )
