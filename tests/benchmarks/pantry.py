"""Which foods of the demo catalog play which part in an invented recipe, and by how many grams.

Composition, edible shares, keeping times and sellers come from the demo catalog; nothing here
repeats them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from planopt.catalog.load import load_catalog
from planopt.catalog.quantities import Quantities
from planopt.catalog.records import Catalog

ROOT = Path(__file__).resolve().parents[2]
CATALOGS = ROOT / "catalogs"
DEMO_WEEK = ROOT / "scenarios" / "demo_week.yaml"


@dataclass(frozen=True)
class Part:
    """A part of a recipe: least and most edible grams a serving, and its foods, most usual first.

    `weight` is the share of a pantry that these foods take; `uses` is how many batches a usual
    small pack serves.
    """

    low_g: float
    high_g: float
    weight: int
    uses: float
    foods: tuple[str, ...]


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


PARTS: dict[str, Part] = {
    "grain": Part(35, 70, 4, 2, _words(
        "rice_white_long oats_rolled pasta bulgur quinoa couscous rice_brown_long barley_pearl "
        "egg_noodles millet pasta_whole_wheat rice_noodles buckwheat_groats cornmeal")),
    "bread": Part(50, 90, 2, 1.5, _words(
        "bread_whole_wheat tortilla_flour pita_whole_wheat bread_rye tortilla_corn bread_white")),
    "meat": Part(80, 150, 4, 1, _words(
        "chicken_breast ground_turkey salmon pork_loin ground_beef_93 cod chicken_thigh tofu_firm "
        "tuna_canned_water turkey_breast beef_chuck shrimp pork_tenderloin tempeh trout "
        "ground_pork haddock tilapia beef_sirloin sardines_canned pollock")),
    "pulse": Part(35, 60, 2, 2, _words(
        "lentils_red_dry chickpeas_dry black_beans_dry lentils_brown_dry split_peas_dry "
        "pinto_beans_dry")),
    "dairy": Part(80, 180, 3, 1.5, _words(
        "greek_yogurt_nonfat egg cottage_cheese_lowfat milk_reduced_fat yogurt_plain_whole "
        "soy_milk ricotta_part_skim milk_whole buttermilk")),
    "cheese": Part(15, 35, 2, 2, _words(
        "cheddar feta mozzarella_part_skim parmesan cream_cheese goat_cheese swiss_cheese "
        "hummus")),
    "vegetable": Part(50, 120, 9, 1, _words(
        "onion carrot tomatoes_canned_diced bell_pepper_red spinach broccoli mushrooms zucchini "
        "peas_frozen sweet_potato potato tomatoes_canned_crushed cabbage_green green_beans celery "
        "kale corn_frozen cauliflower leek cucumber eggplant butternut_squash spinach_frozen "
        "cherry_tomatoes broccoli_frozen bell_pepper_green beet brussels_sprouts "
        "mixed_vegetables_frozen asparagus tomato green_beans_frozen bok_choy parsnip fennel "
        "cabbage_red turnip")),
    "fruit": Part(60, 130, 4, 1, _words(
        "banana apple blueberries_frozen strawberries orange pear strawberries_frozen grapes "
        "peaches_canned_juice kiwifruit blueberries pineapple raspberries mango grapefruit "
        "cantaloupe")),
    "nut": Part(12, 30, 4, 2.5, _words(
        "almonds peanut_butter raisins walnuts chia_seeds sunflower_seeds dates_medjool "
        "pumpkin_seeds apricots_dried cashews peanuts prunes flaxseed hazelnuts tahini "
        "almond_butter cranberries_dried coconut_shredded sesame_seeds")),
    "fat": Part(5, 14, 1, 10, _words("olive_oil canola_oil butter_unsalted sesame_oil")),
    "savoury": Part(8, 25, 2, 4, _words(
        "garlic soy_sauce tomato_paste salsa ginger_root scallion olives_ripe mustard_prepared "
        "parsley cilantro jalapeno dill vinegar_balsamic basil")),
    "sweet": Part(5, 20, 1, 5, _words("honey lemon cocoa_powder maple_syrup lime")),
}  # fmt: skip


@cache
def demo_catalog() -> Catalog:
    """Return the demo catalog."""
    return load_catalog(CATALOGS)


@cache
def cents_per_edible_g() -> dict[str, float]:
    """Return the least price of each sold food of the demo catalog, in cents per edible gram."""
    catalog = demo_catalog()
    quantities = Quantities(catalog)
    least: dict[str, float] = {}
    for pack in catalog.packs.values():
        price = float(pack.price) * 100.0 / quantities.pack_edible_g(pack)
        least[pack.food_id] = min(price, least.get(pack.food_id, price))
    return least


def part_of() -> dict[str, str]:
    """Return the part of each food."""
    return {food_id: name for name, part in PARTS.items() for food_id in part.foods}


def pantry(count: int) -> dict[str, tuple[str, ...]]:
    """Return `count` foods by part, the most usual ones, each part by its weight.

    Raises:
        ValueError: more foods are asked for than there are, or fewer than two a part.
    """
    most = sum(len(part.foods) for part in PARTS.values())
    if not 2 * len(PARTS) <= count <= most:
        raise ValueError(f"a pantry has {2 * len(PARTS)} to {most} foods, not {count}")
    taken = dict.fromkeys(PARTS, 2)
    for _ in range(count - 2 * len(PARTS)):
        open_ = [name for name, part in PARTS.items() if taken[name] < len(part.foods)]
        taken[min(open_, key=lambda name: (taken[name] / PARTS[name].weight, name))] += 1
    return {name: part.foods[: taken[name]] for name, part in PARTS.items()}
