"""Apply a variant: a pure function from catalog and scenario to a changed catalog and scenario."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal

from planopt.catalog.records import Catalog, Pack
from planopt.scenario.byhand import ByHand, settled_together
from planopt.scenario.changes import PriceChange, WindowChange
from planopt.scenario.records import Away, Client, RecipeChoice, Scenario, Variant, Window
from planopt.units import exact_decimal, minor_digits, round_half_up


def apply_variant(
    catalog: Catalog, scenario: Scenario, variant: Variant
) -> tuple[Catalog, Scenario]:
    """Return catalog and scenario with every change of a variant; the scenario keeps no variants.

    Ids that are not known change nothing; `check_variants` finds them.
    """
    packs, by_hand = _offered(catalog, scenario, variant)
    replaced = {stock.food for stock in variant.stock} | set(variant.stock_gone)
    stock = tuple(entry for entry in scenario.stock if entry.food not in replaced)
    clients = [*scenario.clients, *variant.clients_added]
    clients += _alike(clients, variant.clients_alike)
    update = {
        "name": f"{scenario.name}: {variant.name}",
        "recipes": _recipes(scenario.recipes, variant),
        "stock": (*stock, *variant.stock),
        "clients": tuple(clients),
        "variants": (),
        "by_hand": by_hand,
    }
    if variant.meal_defaults is not None:
        update["meal_defaults"] = variant.meal_defaults
    if variant.work_prices is not None:
        named = variant.work_prices
        told = {field: getattr(named, field) for field in named.model_fields_set}
        update["work_prices"] = scenario.work_prices.model_copy(update=told)
    if variant.budget is not None:
        update["budget"] = variant.budget
    if variant.cook_days or variant.cook_days_out:
        moved = {cook.day for cook in variant.cook_days} | set(variant.cook_days_out)
        kept = [cook for cook in scenario.cook_days if cook.day not in moved]
        cook_days = sorted([*kept, *variant.cook_days], key=lambda cook: cook.day)
        update["cook_days"] = tuple(cook_days)
    changed = scenario.model_copy(update=update)
    for away in variant.away:
        changed = _without(changed, away.client, away.days, away.meals)
    for move in variant.windows:
        changed = _moved(changed, move)
    return catalog.model_copy(update={"packs": packs}), changed


def _offered(
    catalog: Catalog, scenario: Scenario, variant: Variant
) -> tuple[dict[str, Pack], ByHand]:
    """Return the packs on offer at their prices, and what is settled by hand."""
    gone = set(variant.unavailable)
    by_hand = settled_together(scenario.by_hand, variant.by_hand)
    bought = {row.pack for row in by_hand.bought}
    packs = {
        pack_id: _priced(pack, variant.prices)
        for pack_id, pack in catalog.packs.items()
        if pack.food_id not in gone or pack_id in bought
    }
    # What is bought already is there, though no shop has more of it.
    still = {pack.food_id for pack in packs.values()} & gone
    sold_out = tuple(dict.fromkeys((*by_hand.sold_out, *sorted(still))))
    return packs, by_hand.model_copy(update={"sold_out": sold_out})


def _priced(pack: Pack, prices: Iterable[PriceChange]) -> Pack:
    price = pack.price
    for change in prices:
        if change.food not in (None, pack.food_id) or change.seller not in (None, pack.seller_id):
            continue
        if change.percent is not None:
            price *= 1 + exact_decimal(change.percent) / 100
        price += change.amount or 0
        # Whole cents, as a shop would put on the shelf.
        price = max(Decimal(0), round_half_up(price, minor_digits(pack.currency)))
    return pack if price == pack.price else pack.model_copy(update={"price": price})


def _recipes(choice: RecipeChoice, variant: Variant) -> RecipeChoice:
    out, wanted = set(variant.recipes_out), set(variant.recipes_in)
    include = tuple(recipe for recipe in choice.include if recipe not in out)
    if choice.include:
        include += tuple(recipe for recipe in variant.recipes_in if recipe not in choice.include)
    exclude = tuple(recipe for recipe in choice.exclude if recipe not in wanted)
    exclude += tuple(recipe for recipe in variant.recipes_out if recipe not in exclude)
    return RecipeChoice(include=include, exclude=exclude)


def _alike(clients: list[Client], ids: Iterable[str]) -> list[Client]:
    taken = {client.client_id for client in clients}
    by_id = {client.client_id: client for client in clients}
    found = []
    for client_id in ids:
        if client_id not in by_id:
            continue
        number = 2
        while f"{client_id}_{number}" in taken:
            number += 1
        fresh = f"{client_id}_{number}"
        taken.add(fresh)
        like = by_id[client_id]
        found.append(
            like.model_copy(update={"client_id": fresh, "name": f"Another like {like.name}"})
        )
    return found


def _skipping(
    scenario: Scenario, client_id: str, days: tuple[int, ...], meals: tuple[str, ...]
) -> Scenario:
    """Return the scenario with a client skipping meals on some days, or on all."""

    def skipping(client: Client) -> Client:
        skipped = {day: tuple(found) for day, found in client.away.meals.items()}
        for day in days or range(1, scenario.days + 1):
            skipped[day] = tuple(dict.fromkeys((*skipped.get(day, ()), *meals)))
        away = client.away.model_copy(update={"meals": skipped})
        return client.model_copy(update={"away": away})

    return _with_client(scenario, client_id, skipping)


def _without(
    scenario: Scenario, client_id: str, days: tuple[int, ...], meals: tuple[str, ...] = ()
) -> Scenario:
    """Return the scenario with a client away on some days, or on all; with `meals` only those."""
    if meals:
        return _skipping(scenario, client_id, days, meals)
    if not days or set(days) >= set(range(1, scenario.days + 1)):
        rest = tuple(client for client in scenario.clients if client.client_id != client_id)
        return scenario.model_copy(update={"clients": rest})

    def away(client: Client) -> Client:
        all_days = tuple(sorted({*client.away.days, *days}))
        return client.model_copy(update={"away": Away(days=all_days, meals=client.away.meals)})

    return _with_client(scenario, client_id, away)


def _with_client(
    scenario: Scenario, client_id: str, change: Callable[[Client], Client]
) -> Scenario:
    clients = tuple(
        change(client) if client.client_id == client_id else client for client in scenario.clients
    )
    return scenario.model_copy(update={"clients": clients})


def window_before(client: Client, move: WindowChange) -> Window:
    """Return the window that a change moves, open on both sides where none is set."""
    if move.week:
        return client.windows_per_week.get(move.nutrient, Window())
    usual = client.windows_per_day.get(move.nutrient, Window())
    if move.day is None:
        return usual
    usual = client.pattern_windows(move.day).get(move.nutrient, usual)
    return client.windows_on_days.get(move.day, {}).get(move.nutrient, usual)


def _moved(scenario: Scenario, move: WindowChange) -> Scenario:
    def change(client: Client) -> Client:
        if move.week:
            weekly = {**client.windows_per_week, move.nutrient: _window(client, move)}
            return client.model_copy(update={"windows_per_week": weekly})
        on_days = {day: dict(windows) for day, windows in client.windows_on_days.items()}
        if move.day is not None:
            on_days.setdefault(move.day, {})[move.nutrient] = _window(client, move)
            return client.model_copy(update={"windows_on_days": on_days})
        for day, windows in on_days.items():
            # Every day means also the days that have a window of their own.
            if move.nutrient in windows:
                single = move.model_copy(update={"day": day})
                windows[move.nutrient] = _window(client, single)
        patterns = {name: dict(windows) for name, windows in client.day_patterns.items()}
        for windows in patterns.values():
            if move.nutrient in windows:
                windows[move.nutrient] = _sides(windows[move.nutrient], move)
        daily = {**client.windows_per_day, move.nutrient: _window(client, move)}
        moved = client.model_copy(update={"windows_per_day": daily, "windows_on_days": on_days})
        return moved.model_copy(update={"day_patterns": patterns})

    return _with_client(scenario, move.client, change)


def _window(client: Client, move: WindowChange) -> Window:
    return _sides(window_before(client, move), move)


def _sides(before: Window, move: WindowChange) -> Window:
    # Not held to the range of what people write: the checks of the changed scenario judge it.
    return Window.model_construct(
        min=_side(before.min, move.min, move.min_by), max=_side(before.max, move.max, move.max_by)
    )


def _side(before: float | None, value: float | None, by: float | None) -> float | None:
    if value is not None:
        return value
    if by is None or before is None:
        return before
    return max(0.0, before + by)
