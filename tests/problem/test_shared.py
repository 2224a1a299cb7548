"""What problems share is the same as if each were built by itself."""

from __future__ import annotations

from pathlib import Path

from kitchens import tiny_client, write_kitchen
from planopt.model.covers import _cover_table, cover_table
from planopt.problem import shared as shared_module
from planopt.problem.build import build_problem
from planopt.problem.shared import Shared, shared_of
from planopt.scenario.reading.load import Kitchen, load_kitchen


def _kitchen(folder: Path, **keys: object) -> Kitchen:
    return load_kitchen(write_kitchen(folder, **keys))


def test_a_shared_problem_equals_one_built_afresh(tmp_path: Path) -> None:
    """Clients, sellers and keeping rules that differ do not see each other's dishes or offers."""
    catalog = _kitchen(tmp_path / "a").catalog
    changes: list[dict[str, object]] = [
        {},
        {"keeping_rule": "longest"},
        {"use_freezer": False},
        {"sellers": ["corner"]},
        {"clients": [tiny_client(allergens=["egg"], meals=["breakfast", "lunch"])]},
        {},
    ]
    for n, change in enumerate(changes):
        scenario = _kitchen(tmp_path / f"s{n}", **change).scenario
        warm = build_problem(catalog, scenario)
        shared_module._latest = None
        afresh = build_problem(catalog, scenario)
        assert warm == afresh
        shared_module._latest = Shared(catalog)
        for other in changes:
            build_problem(catalog, _kitchen(tmp_path / f"o{n}", **other).scenario)


def test_another_catalog_shares_nothing(tmp_path: Path) -> None:
    """Two catalogs that are equal in value are two; the latest one is remembered."""
    first, second = _kitchen(tmp_path).catalog, _kitchen(tmp_path).catalog
    assert first == second
    known = shared_of(first)
    assert shared_of(first) is known
    assert shared_of(second) is not known
    assert shared_of(second).catalog is second


def test_dishes_and_offers_are_worked_out_once(tmp_path: Path) -> None:
    """Asked again, the same objects come back."""
    kitchen = _kitchen(tmp_path)
    known = Shared(kitchen.catalog)
    once = known.dishes("egg_rice", kitchen.scenario), known.offers("egg", kitchen.scenario)
    again = known.dishes("egg_rice", kitchen.scenario), known.offers("egg", kitchen.scenario)
    assert once[0] is again[0]
    assert once[1] is again[1]


def test_cover_tables_are_remembered() -> None:
    """The same packs and grams give the same table, whatever kind of sequence they come in."""
    packs = [(500.0, 160.0), (1000.0, 250.0)]
    assert cover_table(packs, 1500.0) is cover_table(tuple(packs), 1500.0)
    assert cover_table(packs, 1500.0) == _cover_table.__wrapped__(tuple(packs), 1500.0)
