"""Changes of a scenario: each does what it says and nothing else, in a file or in words."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.faults import BadInput
from planopt.scenario.households.paths import check_paths
from planopt.scenario.reading.load import Kitchen, load_kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.variants.apply import apply_variant
from planopt.scenario.variants.words import FORMS, variant_of_words


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    """Return a kitchen with a budget, stock and a window of one day."""
    ana = tiny_client(windows_on_days={2: {"protein_g": {"min": 50}}})
    stock = [{"food": "egg", "amount": 3, "unit": "each"}]
    return load_kitchen(write_kitchen(tmp_path, clients=[ana], budget="40.00", stock=stock))


def changed(kitchen: Kitchen, **fields: Any) -> Scenario:
    """Return the scenario with a variant of these fields applied."""
    variant = Variant.model_validate({"name": "try", **fields})
    return apply_variant(kitchen.catalog, kitchen.scenario, variant)[1]


def price_of(kitchen: Kitchen, pack_id: str, **fields: Any) -> Decimal:
    """Return a pack's price with a variant of these fields applied."""
    variant = Variant.model_validate({"name": "try", **fields})
    return apply_variant(kitchen.catalog, kitchen.scenario, variant)[0].packs[pack_id].price


def test_applying_leaves_the_base_as_it_was(kitchen: Kitchen) -> None:
    """A change is a pure function: catalog and scenario given are not touched."""
    before = kitchen.scenario.model_dump_json(), kitchen.catalog.model_dump_json()
    changed(kitchen, budget="20", unavailable=["egg"], away=[{"client": "ana", "days": [1]}])
    assert (kitchen.scenario.model_dump_json(), kitchen.catalog.model_dump_json()) == before


def test_budget_and_name(kitchen: Kitchen) -> None:
    """The budget is the new one, and the name tells both."""
    found = changed(kitchen, budget="20.50")
    assert found.budget == Decimal("20.50")
    assert found.name == "Tiny week: try"


@pytest.mark.parametrize(
    ("change", "price"),
    [
        ({"food": "egg", "percent": 30}, "3.12"),
        ({"food": "egg", "amount": "-0.40"}, "2.00"),
        ({"seller": "corner", "percent": -10}, "2.16"),
        ({"seller": "market", "percent": -10}, "2.40"),
        ({"food": "egg", "seller": "market", "percent": 50}, "2.40"),
        ({"food": "egg", "amount": "-9"}, "0"),
    ],
)
def test_prices_move_by_food_and_seller_in_whole_cents(
    kitchen: Kitchen, change: dict[str, Any], price: str
) -> None:
    """Six eggs of the corner shop cost 2.40; half a cent goes up, and nothing goes below zero."""
    assert price_of(kitchen, "eggs_6", prices=[change]) == Decimal(price)


def test_an_unavailable_food_has_no_pack_but_its_stock_stays(kitchen: Kitchen) -> None:
    """The shop is out of eggs; the three at home are still there."""
    variant = Variant(name="try", unavailable=("egg",))
    catalog, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
    assert {pack.food_id for pack in catalog.packs.values()} == {
        "oats_rolled", "milk_whole", "lentils_red_dry", "rice_white_long", "onion",
    }  # fmt: skip
    assert [entry.food for entry in scenario.stock] == ["egg"]


def test_recipes_come_in_and_go_out(kitchen: Kitchen) -> None:
    """What goes out is excluded, what comes in is no longer, and lists of `include` follow."""
    out = changed(kitchen, recipes_out=["egg_rice"])
    assert out.recipes.exclude == ("egg_rice",)
    listed = kitchen.scenario.model_copy(
        update={"recipes": out.recipes.model_copy(update={"include": ("lentil_soup",)})}
    )
    variant = Variant(name="try", recipes_in=("egg_rice",))
    found = apply_variant(kitchen.catalog, listed, variant)[1]
    assert found.recipes.include == ("lentil_soup", "egg_rice")
    assert found.recipes.exclude == ()


def test_a_window_of_every_day_moves_also_where_a_day_has_its_own(kitchen: Kitchen) -> None:
    """Twenty grams more are 80 on usual days and 70 on the day that asked for 50."""
    move = {"client": "ana", "nutrient": "protein_g", "min_by": 20}
    (ana,) = changed(kitchen, windows=[move]).clients
    assert ana.windows_per_day["protein_g"].min == 80
    assert ana.windows_on_days[2]["protein_g"].min == 70


def test_a_window_moves_on_the_kinds_of_days_that_have_it(tmp_path: Path) -> None:
    """Every day means days of a kind too; one day of a kind moves from what the kind asks."""
    ana = tiny_client(
        day_patterns={"rest": {"protein_g": {"min": 40}}}, pattern_days={"rest": [1, 2]}
    )
    here = load_kitchen(write_kitchen(tmp_path, clients=[ana]))
    move = {"client": "ana", "nutrient": "protein_g", "min_by": 20}
    (every,) = changed(here, windows=[move]).clients
    assert [every.windows_per_day["protein_g"].min, every.pattern_windows(1)["protein_g"].min] == [
        80, 60,
    ]  # fmt: skip
    (single,) = changed(here, windows=[{**move, "day": 2}]).clients
    assert single.windows_on_days[2]["protein_g"].min == 60
    assert single.pattern_windows(1)["protein_g"].min == 40


def test_a_window_moves_on_one_day_or_over_the_week(kitchen: Kitchen) -> None:
    """The other days, and the other side, stay."""
    moves = [
        {"client": "ana", "nutrient": "energy_kcal", "day": 3, "max": 1900},
        {"client": "ana", "nutrient": "sodium_mg", "week": True, "max": 6000},
    ]
    (ana,) = changed(kitchen, windows=moves).clients
    assert ana.windows_on_days[3]["energy_kcal"].model_dump() == {"min": 1500, "max": 1900}
    assert ana.windows_per_day["energy_kcal"].max == 2100
    assert ana.windows_per_week["sodium_mg"].max == 6000


def test_clients_come_and_go(kitchen: Kitchen) -> None:
    """One alike gets an id of its own; who is away on all days leaves the plan."""
    twins = changed(kitchen, clients_alike=["ana", "ana"])
    assert [client.client_id for client in twins.clients] == ["ana", "ana_2", "ana_3"]
    ben = tiny_client(id="ben", name="Ben")
    both = changed(kitchen, clients_added=[ben], away=[{"client": "ana"}])
    assert [client.client_id for client in both.clients] == ["ben"]
    (ana,) = changed(kitchen, away=[{"client": "ana", "days": [3]}]).clients
    assert ana.away.days == (3,)


CHANGES_OF_CLIENTS: list[tuple[dict[str, Any], dict[str, set[str]]]] = [
    # what is changed, and the fields of each client that it may touch
    ({"clients_alike": ["ana", "ben"]}, {"ana_2": {"id", "name"}, "ben_2": {"id", "name"}}),
    ({"away": [{"client": "ana", "days": [3]}]}, {"ana": {"away"}}),
    ({"away": [{"client": "ben"}]}, {}),
    (
        {"windows": [{"client": "ana", "nutrient": "protein_g", "min_by": 5}]},
        {"ana": {"windows_per_day", "windows_on_days"}},
    ),
    (
        {"windows": [{"client": "ana", "nutrient": "protein_g", "day": 1, "max": 90}]},
        {"ana": {"windows_on_days"}},
    ),
    (
        {"windows": [{"client": "ana", "nutrient": "sodium_mg", "week": True, "max": 7000}]},
        {"ana": {"windows_per_week"}},
    ),
    ({"budget": "20", "cook_days": [{"day": 2}], "recipes_out": ["egg_rice"]}, {}),
]


@pytest.mark.parametrize(("fields", "touched"), CHANGES_OF_CLIENTS)
def test_a_change_touches_nothing_of_a_client_that_it_does_not_name(
    tmp_path: Path, fields: dict[str, Any], touched: dict[str, set[str]]
) -> None:
    """Allergens, exclusions and all else stay, of those there before and of one more like them."""
    ana = tiny_client(
        allergens=["milk", "egg"], excluded_foods=["oats_rolled", "egg"],
        excluded_recipes=["egg_rice", "boiled_eggs"], dislikes={"onion": 1},
        wants={"lentils_red_dry": 1}, most_repeats=3, recipe_servings={"lentil_soup": {"max": 9}},
        portions={"largest": 4}, away={"days": [2], "meals": {1: ["lunch"]}},
        windows_on_days={3: {"protein_g": {"min": 50}}}, meals=["lunch", "dinner"],
        windows_per_week={"sodium_mg": {"max": 9000}}, least_different_recipes=1,
    )  # fmt: skip
    ben = tiny_client(
        id="ben", name="Ben", allergens=["egg"], excluded_foods=["oats_rolled"], meals=["lunch"]
    )
    kitchen = load_kitchen(write_kitchen(tmp_path, clients=[ana, ben]))
    before = {client.client_id: client for client in kitchen.scenario.clients}
    found = changed(kitchen, **fields).clients
    gone = {"ben"} if fields.get("away") == [{"client": "ben"}] else set()
    alike = {f"{one}_2" for one in fields.get("clients_alike", ())}
    assert {client.client_id for client in found} == before.keys() - gone | alike
    for client in found:
        was = before[client.client_id.removesuffix("_2")].model_dump(by_alias=True)
        now = client.model_dump(by_alias=True)
        differs = {name for name in was if was[name] != now[name]}
        assert differs <= touched.get(client.client_id, set()), client.client_id


def test_who_is_away_on_more_days_stays_away_from_the_meals_of_before(tmp_path: Path) -> None:
    """Days and meals away add up; nobody comes back by going away."""
    ana = tiny_client(away={"days": [2], "meals": {1: ["lunch"]}})
    kitchen = load_kitchen(write_kitchen(tmp_path, clients=[ana]))
    (found,) = changed(kitchen, away=[{"client": "ana", "days": [3]}]).clients
    assert found.away.model_dump() == {"days": (2, 3), "meals": {1: ("lunch",)}}


def test_cook_days_and_stock_are_replaced(kitchen: Kitchen) -> None:
    """A cook day takes the place of that day's, in order; stock replaces all of its food."""
    found = changed(
        kitchen,
        cook_days=[{"day": 3}, {"day": 0, "oven_minutes": 50}],
        cook_days_out=[1],
        stock=[{"food": "egg", "amount": 12, "unit": "each"}],
    )
    assert [cook.day for cook in found.cook_days] == [0, 3]
    assert [(entry.food, entry.amount) for entry in found.stock] == [("egg", Decimal(12))]
    assert changed(kitchen, stock_gone=["egg"]).stock == ()


WORDS = [
    (["budget 30"], {"budget": "30"}),
    (["price of egg +30%"], {"prices": [{"food": "egg", "percent": 30}]}),
    (["price of egg -0.10"], {"prices": [{"food": "egg", "amount": "-0.10"}]}),
    (["prices at corner +5 %"], {"prices": [{"seller": "corner", "percent": 5}]}),
    (["prices at corner +0.05"], {"prices": [{"seller": "corner", "amount": "0.05"}]}),
    (["with recipe egg_rice"], {"recipes_in": ["egg_rice"]}),
    (["without recipe egg_rice"], {"recipes_out": ["egg_rice"]}),
    (["one more like ana"], {"clients_alike": ["ana"]}),
    (["ana away on day 2, 3"], {"away": [{"client": "ana", "days": [2, 3]}]}),
    (
        ["ana protein_g min +20"],
        {"windows": [{"client": "ana", "nutrient": "protein_g", "min_by": 20}]},
    ),
    (
        ["ana energy_kcal max 2000 on day 2"],
        {"windows": [{"client": "ana", "nutrient": "energy_kcal", "max": 2000, "day": 2}]},
    ),
    (
        ["ana sodium_mg max 7000 over the week"],
        {"windows": [{"client": "ana", "nutrient": "sodium_mg", "max": 7000, "week": True}]},
    ),
    (
        ["cook hour 18", "box 0.05", "washing up 5 minutes"],
        {"work_prices": {"cook_hour": "18", "box": "0.05", "washing_up_minutes": 5}},
    ),
    (["cook hour 0"], {"work_prices": {"cook_hour": "0"}}),
    (["meal defaults off"], {"meal_defaults": "off"}),
    (["cook on day 2"], {"cook_days": [{"day": 2}]}),
    (["cook on day 2", "no cooking on day 1"], {"cook_days": [{"day": 2}], "cook_days_out": [1]}),
    (["stock egg 12 each"], {"stock": [{"food": "egg", "amount": "12", "unit": "each"}]}),
    (["no stock of egg"], {"stock_gone": ["egg"]}),
    (["no  egg"], {"unavailable": ["egg"]}),
    (
        ["ana skips lunch on day 2, 3"],
        {"away": [{"client": "ana", "days": [2, 3], "meals": ["lunch"]}]},
    ),
    (
        ["put egg_rice on day 2 dinner for ana as 1.5"],
        {
            "by_hand": {
                "plates": [
                    {
                        "put": "egg_rice",
                        "client": "ana",
                        "day": 2,
                        "meal": "dinner",
                        "servings": 1.5,
                    }
                ]
            }
        },
    ),
    (
        ["put egg_rice on day 1 lunch", "without lentil_soup on day 2 for ana"],
        {
            "by_hand": {
                "plates": [
                    {"put": "egg_rice", "day": 1, "meal": "lunch"},
                    {"without": "lentil_soup", "client": "ana", "day": 2},
                ]
            }
        },
    ),
]


@pytest.mark.parametrize(("texts", "fields"), WORDS, ids=[words[0] for words, _ in WORDS])
def test_words_mean_the_same_as_fields(
    kitchen: Kitchen, texts: list[str], fields: dict[str, Any]
) -> None:
    """Every form told on the command line is the variant that a file would have."""
    found = variant_of_words(texts, kitchen.catalog, kitchen.scenario)
    name = "; ".join(" ".join(text.split()) for text in texts)
    assert found == Variant.model_validate({"name": name, **fields})


def test_every_form_is_tried_above() -> None:
    """No form of words is left without its meaning being tested."""
    assert len(FORMS) <= len(WORDS)


def test_all_faults_of_changes_come_at_once(kitchen: Kitchen) -> None:
    """What is not understood, and each id that is unknown, is told together."""
    with pytest.raises(BadInput) as caught:
        variant_of_words(
            ["less salt", "no eg", "bob away", "ana protin_g min +5"],
            kitchen.catalog,
            kitchen.scenario,
        )
    assert {fault.code for fault in caught.value.faults} == {
        "change_not_understood", "unknown_food", "unknown_client", "unknown_nutrient",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"windows": [{"client": "ana", "nutrient": "energy_kcal", "max": 790}]}, None),
        (
            {"windows": [{"client": "ana", "nutrient": "energy_kcal", "week": True, "max": 2399}]},
            "energy_below_floor",
        ),
        ({"recipes_out": ["oat_porridge"]}, "meal_without_recipe"),
        ({"budget": "1.005"}, "money_decimals"),
        ({"cook_days": [{"day": 9}]}, "day_beyond_plan"),
        ({"stock": [{"food": "egg", "amount": 1, "unit": "slice"}]}, "unit_unknown"),
    ],
)
def test_what_a_variant_makes_is_checked_like_a_scenario(
    tmp_path: Path, fields: dict[str, Any], code: str | None
) -> None:
    """A variant may not do what a scenario may not, such as energy below 800 kcal."""
    path = write_kitchen(tmp_path, variants=[{"name": "try", **fields}])
    codes = {fault.code for fault in check_paths([path])}
    assert codes == ({code} if code else {"energy_below_floor", "range_reversed"})
    assert all("variants[0]" in fault.field for fault in check_paths([path]))


def test_importance_names_known_nutrients(tmp_path: Path) -> None:
    """A nutrient that the catalog lacks is a fault of its place in the list."""
    path = write_kitchen(tmp_path, importance=["protein_g", "zinc_mg"])
    (fault,) = check_paths([path])
    assert (fault.code, fault.field) == ("unknown_nutrient", "importance[1]")
