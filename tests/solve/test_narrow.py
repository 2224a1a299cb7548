"""Large recipe books: plans are sought among fewer dishes, and hold for the whole book."""

from __future__ import annotations

import pytest

from model.small import EXACT, SOURCE, catalog, client, facts, food, pack, recipe, scenario
from planopt.audit import audit_plan
from planopt.catalog.records import Catalog
from planopt.model.daymenus import supports_menus
from planopt.plan.extract import extract_plan
from planopt.problem.build import Problem, build_problem
from planopt.problem.decisions import cost_of
from planopt.problem.restricted import restrict
from planopt.scenario.records import Scenario
from planopt.solve.bounding.worker import BoundWorker
from planopt.solve.budget import Budget
from planopt.solve.engine import narrow
from planopt.solve.engine.bymenus import search_menus
from planopt.solve.engine.state import SearchState
from planopt.solve.highs.daymodel import search_plain
from planopt.solve.parameters import ChoosingParameters
from planopt.solve.settings import SolveSettings

DISHES = 24


def _book() -> tuple[Catalog, Scenario]:
    """Return a book of dishes of one food each, some of them dear for what they give."""
    names = [f"food_{n:02d}" for n in range(DISHES)]
    foods = [
        food(name, kcal=100.0 + 10 * (n % 5), protein=2.0 + n % 7) for n, name in enumerate(names)
    ]
    packs = [pack(name, 400, f"{1 + n % 6}.00") for n, name in enumerate(names)]
    recipes = [recipe(f"dish_{n:02d}", {name: 400}) for n, name in enumerate(names)]
    window = {"energy_kcal": {"min": 400, "max": 900}, "protein_g": {"min": 10}}
    return catalog(foods, packs, recipes), scenario(
        days=2,
        meals=["lunch", "dinner"],
        clients=[client(windows_per_day=window, medically_supervised=True)],
    )


@pytest.fixture
def book() -> Problem:
    """Return the problem of the book."""
    return build_problem(*_book())


def test_the_cheapest_for_each_nutrient_are_kept(
    book: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of so many dishes a meal, half are cheapest by energy and half by protein."""
    monkeypatch.setattr(narrow, "_CHOOSING", ChoosingParameters(most_a_meal=8))
    smaller = narrow.narrowed(book)
    assert smaller is not None
    kept = {book.dishes[cooking.dish].recipe_id for cooking in smaller.cookings}
    price = {dish.recipe_id: 1 + n % 6 for n, dish in enumerate(book.dishes)}
    for name in ("energy_kcal", "protein_g"):
        order = sorted(book.dishes, key=lambda d: price[d.recipe_id] / d.nutrients[name])
        assert {dish.recipe_id for dish in order[:3]} <= kept
    assert len(kept) <= 8 < DISHES
    assert smaller.dishes == book.dishes


def test_a_book_is_narrowed_until_menus_can_be_searched(
    book: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With less room for halves of menus fewer dishes stay, and none where nothing fits."""
    monkeypatch.setattr("planopt.model.daymenus._MOST_HALF", 20)
    assert not supports_menus(book)
    smaller = narrow.narrowed(book)
    assert smaller is not None
    assert supports_menus(smaller)
    monkeypatch.setattr("planopt.model.daymenus._MOST_HALF", 1)
    assert narrow.narrowed(book) is None


def test_a_plan_from_a_narrowed_book_is_one_of_the_whole_book(
    book: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It passes the audit, costs what is told, and the bound is below the book's least cost."""
    monkeypatch.setattr(narrow, "_CHOOSING", ChoosingParameters(most_a_meal=10))
    smaller = narrow.narrowed(book)
    settings = SolveSettings(work_limit=200, gap=0.0)
    result = search_menus(book, settings, Budget(settings), smaller)
    least = search_plain(book, EXACT).bound
    assert result.decisions is not None
    assert result.bound <= least + 1e-6
    assert cost_of(book, result.decisions).objective >= least - 1e-6
    plan = extract_plan(book, *_book(), result.decisions, facts(result.bound), SOURCE)
    assert audit_plan(plan, *_book()) == []


def _without_the_cheapest(book: Problem) -> Problem:
    """Return the book without the dishes whose food costs least."""
    cheap = {dish.recipe_id for n, dish in enumerate(book.dishes) if n % 6 == 0}
    kept = {c for c in book.cookings if book.dishes[c.dish].recipe_id not in cheap}
    return restrict(book, kept)


def test_a_week_beyond_the_narrowed_book_counts(book: Problem) -> None:
    """A cheaper plan with dishes that were left out is the best plan, and narrowing keeps it."""
    smaller = _without_the_cheapest(book)
    best, dear = (search_plain(one, EXACT).decisions for one in (book, smaller))
    assert best is not None
    assert dear is not None
    settings = SolveSettings(work_limit=1)
    state = SearchState(smaller, settings, Budget(settings), BoundWorker(), book)
    assert state.offer(dear)
    assert state.offer_of_whole(best)
    assert state.beyond is not None
    assert state.plan() == state.beyond
    assert state.objective == pytest.approx(cost_of(book, best).objective)
    assert not state.offer(dear)
    state.narrow(book)
    assert state.best is not None
    assert state.beyond is None
    assert cost_of(book, state.best).objective == pytest.approx(state.objective)


def test_annealing_sees_the_whole_book(book: Problem) -> None:
    """Where the narrowed book lacks the cheapest week, it is found all the same."""
    pytest.importorskip("numba")
    least = search_plain(book, EXACT).decisions
    assert least is not None
    settings = SolveSettings(work_limit=200, gap=0.0)
    found = search_menus(book, settings, Budget(settings), _without_the_cheapest(book)).decisions
    assert found is not None
    assert cost_of(book, found).objective <= cost_of(book, least).objective + 1e-6
