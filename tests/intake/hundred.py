"""A hundred invented recipes as other people publish them, with the truth of each.

`write_hundred(folder)` writes them as JSON files and saved pages in all the forms that schema.org
allows, and returns what each one holds: grams by food, worked out here from `measures.csv` and
`foods.csv`, with no code of the importer. The same files each time.
"""

from __future__ import annotations

import csv
import html
import json
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

RECIPES = 100
SERVINGS = 4
OZ_G = 28.349523125

Words = Callable[[random.Random, float], str]


@dataclass
class Told:
    """What one recipe says: its name, and the true grams of each food; `kcal` of a serving."""

    name: str
    meals: tuple[str, ...]
    grams: dict[str, float] = field(default_factory=dict)
    sentences: list[str] = field(default_factory=list)
    steps: list[str] = field(default_factory=list)
    hob_minutes: int = 0
    oven_minutes: int = 0
    prep_minutes: int = 15


class Pantry:
    """The tables of a catalog, read plainly."""

    def __init__(self, catalog: Path) -> None:
        with (catalog / "foods.csv").open(encoding="utf-8", newline="") as file:
            self.foods = {row["food_id"]: row for row in csv.DictReader(file)}
        with (catalog / "measures.csv").open(encoding="utf-8", newline="") as file:
            self.measures = {
                (row["food_id"], row["unit"]): float(row["grams"])
                for row in csv.DictReader(file)
                if not row["state"]
            }

    def bought(self, food: str, grams: float) -> float:
        """Return what is edible of grams as bought."""
        return grams * float(self.foods[food]["edible_share"])


class Writer:
    """Writes the ingredient sentences of one recipe in changing words, and keeps their truth."""

    def __init__(self, told: Told, pantry: Pantry, draw: random.Random) -> None:
        self.told, self.pantry, self.draw = told, pantry, draw

    def _add(self, food: str, grams: float, sentence: str) -> None:
        self.told.grams[food] = self.told.grams.get(food, 0.0) + grams
        self.told.sentences.append(sentence)

    def weighed(self, food: str, grams: int, *names: str, done: str = "") -> None:
        """Add a weight as bought."""
        name = self.draw.choice(names)
        end = f", {done}" if done and self.draw.random() < 0.7 else ""
        form = self.draw.randrange(6)
        if form == 0:
            ounces = round(grams / OZ_G)
            self._add(food, self.pantry.bought(food, ounces * OZ_G), f"{ounces} oz {name}{end}")
            return
        text = (
            f"{grams} g {name}{end}",
            f"{grams}g {name}{end}",
            f"{grams} grams of {name}{end}",
            f"{name} - {grams} g",
            f"{grams} g ({round(grams / OZ_G)} oz) {name}{end}",
        )[form - 1]
        self._add(food, self.pantry.bought(food, grams), text)

    def tins(self, food: str, count: int, name: str, done: str = "") -> None:
        """Add tins of 400 g."""
        word = {1: "One", 2: "Two"}[count]
        plural = "s" if count > 1 else ""
        text = self.draw.choice(
            (
                f"{count} x 400g tin{plural} {name}",
                f"{count} (400 g) can{plural} {name}",
                f"{word} 400 g tin{plural} {name}",
                f"{count} tin{plural} (400 g each) {name}",
            )
        )
        self._add(food, self.pantry.bought(food, 400 * count), text + (f", {done}" if done else ""))

    def counted(self, food: str, count: float, name: str, many: str, done: str = "") -> None:
        """Add things that are counted; their grams are those of a medium one."""
        grams = count * self.pantry.measures[food, "each"]
        if count == 0.5:
            number = self.draw.choice(("half a", "1/2", "\u00bd"))
        else:
            words = {1: "one", 2: "two", 3: "three", 4: "four", 6: "six", 8: "eight"}
            number = self.draw.choice((f"{count:g}", words.get(int(count), f"{count:g}")))
            number = number.capitalize() if self.draw.random() < 0.3 else number
        size = "medium " if number == "2" and self.draw.random() < 0.5 and food != "egg" else ""
        noun = name if count <= 1 else many
        self._add(food, grams, f"{number} {size}{noun}" + (f", {done}" if done else ""))

    def spooned(self, food: str, count: float, unit: str, name: str) -> None:
        """Add cups or spoons."""
        grams = count * self.pantry.measures[food, unit]
        words = {"tbsp": "tablespoon", "tsp": "teaspoon", "cup": "cup"}
        whole, part = int(count), count - int(count)
        sign = {0.0: "", 0.5: "\u00bd", 0.25: "\u00bc", 0.75: "\u00be"}[part]
        slash = {0.0: "", 0.5: "1/2", 0.25: "1/4", 0.75: "3/4"}[part]
        number = self.draw.choice(
            (f"{count:g}", f"{whole or ''}{sign}", f"{whole or ''} {slash}".strip())
        )
        long = words[unit] + ("s" if count > 1 else "")
        short = unit + ("s" if unit == "cup" and count > 1 else "")
        self._add(food, grams, f"{number} {self.draw.choice((long, short))} {name}")

    def cloves(self, count: int) -> None:
        """Add cloves of garlic."""
        text = self.draw.choice(
            (f"{count} cloves garlic, minced", f"{count} garlic cloves, crushed",
             f"{count} cloves of garlic")
        )  # fmt: skip
        self._add("garlic", count * self.pantry.measures["garlic", "clove"], text)

    def settled(self, sentence: str, **grams: float) -> None:
        """Add a sentence that only a person can settle, with the grams of their answer."""
        for food, amount in grams.items():
            self.told.grams[food] = self.told.grams.get(food, 0.0) + amount
        self.told.sentences.append(sentence)

    def seasoned(self) -> None:
        """Add salt and pepper: 1 tsp and 1/4 tsp by the file of answers."""
        text = self.draw.choice(("Salt and pepper, to taste", "salt and black pepper to taste"))
        self.settled(text, salt=6.0, black_pepper=0.25 * 2.3)


VEGETABLES: tuple[tuple[str, str, str], ...] = (
    ("carrot", "carrot", "carrots"),
    ("zucchini", "courgette", "courgettes"),
    ("leek", "leek", "leeks"),
    ("bell_pepper_red", "red bell pepper", "red bell peppers"),
    ("sweet_potato", "sweet potato", "sweet potatoes"),
    ("tomato", "tomato", "tomatoes"),
    ("parsnip", "parsnip", "parsnips"),
    ("turnip", "turnip", "turnips"),
    ("fennel", "fennel bulb", "fennel bulbs"),
    ("beet", "beetroot", "beetroots"),
)


def _soup(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.weighed("lentils_red_dry", 250, "red lentils", "dried red lentils", done="rinsed")
    write.counted(food, 2, one, many, "diced")
    write.counted("onion", 1, "onion", "onions", "finely chopped")
    write.cloves(2)
    write.spooned("olive_oil", 1, "tbsp", "extra-virgin olive oil")
    write.settled("1 litre hot vegetable stock", vegetable_broth=978.0)
    write.spooned("cumin_ground", 1.5, "tsp", "ground cumin")
    write.seasoned()
    write.told.steps += [
        f"Soften the onion and the {many} in the oil for 8 minutes, then stir in garlic and cumin.",
        "Add the lentils and the stock and simmer for 22 minutes until soft. Season.",
    ]
    write.told.hob_minutes = 30


def _tray(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.weighed(
        "chicken_thigh",
        700,
        "boneless, skinless chicken thighs",
        "skinless boneless chicken thighs",
    )
    write.weighed("potato", 600, "potatoes", done="cut into chunks")
    write.counted(food, 3, one, many, "thickly sliced")
    write.settled("1 large onion, cut into wedges", onion=150.0)
    write.spooned("olive_oil", 2, "tbsp", "olive oil")
    write.settled("1 tsp smoked paprika", paprika=2.3)
    write.seasoned()
    write.told.steps += [
        "Heat the oven to 200 C (180 C fan).",
        "Toss everything with the oil and the spices on a large tray.",
        "Roast for 45 minutes, turning once, until the chicken is 75 C in the thickest part.",
    ]
    write.told.oven_minutes = 45


def _chili(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.tins("kidney_beans_canned", 2, "kidney beans", "drained and rinsed")
    write.weighed("ground_turkey", 500, "turkey mince", "ground turkey", "minced turkey")
    write.settled("2 x 400g tins chopped tomatoes", tomatoes_canned_diced=800.0)
    write.counted(food, 2, one, many, "diced")
    write.counted("onion", 2, "onion", "onions", "chopped")
    write.cloves(3)
    write.spooned("canola_oil", 1, "tbsp", "rapeseed oil")
    write.spooned("chili_powder", 2, "tsp", "chilli powder")
    write.seasoned()
    write.told.steps += [
        "Brown the turkey in the oil for 8 minutes; add onion, garlic and chilli for 4 minutes.",
        f"Add the {many}, tomatoes and beans and simmer for 28 minutes.",
    ]
    write.told.hob_minutes = 40


def _curry(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.tins("chickpeas_canned", 2, "chickpeas", "drained")
    write.tins("coconut_milk_canned", 1, "coconut milk")
    write.counted(food, 2, one, many, "in small pieces")
    write.spooned("rice_brown_long", 1, "cup", "uncooked brown rice")
    write.spooned("curry_powder", 2, "tbsp", "curry powder")
    write.settled("a handful of fresh coriander, chopped", cilantro=10.0)
    write.weighed("spinach_frozen", 300, "frozen spinach")
    write.seasoned()
    write.told.steps += [
        "Simmer the rice for 25 minutes.",
        f"Simmer the {many} in the coconut milk with the curry powder for 15 minutes.",
        "Add the chickpeas and the spinach and cook for 10 minutes. Scatter the coriander over.",
    ]
    write.told.hob_minutes = 50


def _porridge(write: Writer, nth: int) -> None:
    fruit = (
        ("banana", "banana", "bananas"), ("apple", "apple", "apples"), ("pear", "pear", "pears"),
        ("kiwifruit", "kiwifruit", "kiwifruits"), ("orange", "orange", "oranges"),
    )[nth % 5]  # fmt: skip
    write.spooned("oats_rolled", 2.5, "cup", "rolled oats" if nth < 5 else "porridge oats")
    write.settled("800 ml whole milk", milk_whole=800 * 1.031)
    write.counted(fruit[0], 3, fruit[1], fruit[2], "sliced")
    write.spooned("honey", 2, "tbsp", "honey")
    write.weighed("walnuts" if nth < 5 else "almonds", 60, "walnuts" if nth < 5 else "almonds")
    write.spooned("cinnamon_ground", 1, "tsp", "ground cinnamon")
    write.told.steps += [
        "Bring the milk to a simmer with the oats and cook for 10 minutes, stirring.",
        "Top with fruit, nuts, honey and cinnamon.",
    ]
    write.told.hob_minutes, write.told.prep_minutes = 10, 10


def _bake(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.counted("egg", 8, "egg", "eggs", "beaten")
    write.weighed("cottage_cheese_lowfat", 200, "low-fat cottage cheese")
    write.counted(food, 2, one, many, "grated")
    write.weighed("cheddar", 80, "grated cheddar", "cheddar cheese")
    write.settled("2 sprigs thyme", thyme_dried=1.0)
    write.spooned("olive_oil", 1, "tbsp", "olive oil")
    write.seasoned()
    write.told.steps += [
        "Heat the oven to 180 C and oil a deep tin.",
        f"Mix the eggs with the cheeses, the {many} and the seasoning.",
        "Bake for 30 minutes until set.",
    ]
    write.told.oven_minutes = 30


def _salad(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.weighed("bulgur", 250, "bulgur wheat", "bulgur")
    write.weighed("feta", 150, "feta cheese", done="crumbled")
    write.counted("cucumber", 0.5, "cucumber", "cucumbers", "diced")
    write.counted(food, 2, one, many, "shaved thinly")
    write.settled("juice of 1 lemon", lemon=30.0)
    write.spooned("olive_oil", 3, "tbsp", "olive oil")
    write.settled("1 bunch parsley, chopped", parsley=30.0)
    write.told.steps += [
        "Simmer the bulgur for 12 minutes, drain and let it cool.",
        f"Fold in the feta, the cucumber, the {many} and the parsley; dress with lemon and oil.",
    ]
    write.told.hob_minutes = 12


def _pasta(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.weighed("pasta_whole_wheat", 350, "dry whole-wheat pasta", "wholewheat pasta")
    write.weighed("salmon", 400, "salmon fillets", "salmon", done="skinned")
    write.weighed("peas_frozen", 250, "frozen peas")
    write.counted(food, 2, one, many, "sliced")
    write.weighed("ricotta_part_skim", 150, "ricotta")
    write.cloves(2)
    write.seasoned()
    write.told.steps += [
        "Boil the pasta for 11 minutes, adding the peas at the end.",
        f"Fry the {many} and the garlic for 6 minutes, add the salmon and cook for 8 minutes.",
        "Toss with the ricotta.",
    ]
    write.told.hob_minutes = 25


def _pot(write: Writer, nth: int) -> None:
    fruit = (
        ("raspberries", "raspberries"), ("blueberries_frozen", "frozen blueberries"),
        ("strawberries", "strawberries"), ("mango", "mango"), ("raspberries", "fresh raspberries"),
    )[nth % 5]  # fmt: skip
    write.weighed("greek_yogurt_nonfat", 600, "plain Greek yogurt", "non-fat Greek yogurt")
    write.weighed(fruit[0], 250, fruit[1])
    write.spooned("chia_seeds", 3, "tbsp", "chia seeds")
    write.spooned("maple_syrup", 1, "tbsp", "maple syrup")
    write.weighed("hazelnuts" if nth < 5 else "almonds", 50, "hazelnuts" if nth < 5 else "almonds")
    write.told.steps += [
        "Stir the yogurt with seeds and syrup.",
        "Layer with fruit and nuts in four jars and chill for 2 hours.",
    ]
    write.told.prep_minutes = 10


def _stirfry(write: Writer, nth: int) -> None:
    food, one, many = VEGETABLES[nth]
    write.weighed("tofu_firm", 400, "firm tofu", done="pressed and cubed")
    write.weighed("rice_noodles", 250, "rice noodles", "dried rice noodles")
    write.counted(food, 2, one, many, "cut into matchsticks")
    write.counted("scallion", 4, "spring onion", "spring onions", "sliced")
    write.settled("3 tbsp dark soy sauce", soy_sauce=3 * 15.94)
    write.spooned("sesame_oil", 1, "tbsp", "toasted sesame oil")
    write.spooned("peanut_butter", 2, "tbsp", "peanut butter")
    write.told.steps += [
        "Steam the noodles for 5 minutes.",
        f"Stir-fry the tofu for 8 minutes, add the {many} and fry for 5 minutes.",
        "Toss with the sauces, the noodles and the spring onions.",
    ]
    write.told.hob_minutes = 18


_FAMILIES: tuple[tuple[Callable[[Writer, int], None], str, str, tuple[str, ...]], ...] = (
    (_soup, "{} and red lentil soup", "Soup", ("lunch", "dinner")),
    (_tray, "Chicken tray bake with {}", "Dinner", ("dinner",)),
    (_chili, "Turkey chili with {}", "Main course", ("lunch", "dinner")),
    (_curry, "Chickpea curry with {}", "Lunch, Dinner", ("dinner", "lunch")),
    (_porridge, "Cinnamon porridge no. {}", "Breakfast", ("breakfast",)),
    (_bake, "Egg bake with {}", "Brunch", ("breakfast",)),
    (_salad, "Bulgur salad with {} & feta", "Salad", ("lunch", "dinner")),
    (_pasta, "Salmon pasta with {}", "Dinner", ("dinner",)),
    (_pot, "Layered yogurt jar no. {}", "Snack", ("snack",)),
    (_stirfry, "Tofu noodles with {}", "Lunch", ("lunch",)),
)


def told_recipes(catalog: Path) -> list[Told]:
    """Return the recipes with their truths, in the order of their files."""
    pantry, made = Pantry(catalog), []
    for number in range(RECIPES):
        make, pattern, _, meals = _FAMILIES[number % len(_FAMILIES)]
        nth = number // len(_FAMILIES)
        word = VEGETABLES[nth][2] if "no." not in pattern else str(nth + 1)
        told = Told(pattern.format(word)[0].upper() + pattern.format(word)[1:], meals)
        make(Writer(told, pantry, random.Random(number)), nth)
        made.append(told)
    return made


def write_hundred(folder: Path, catalog: Path) -> list[Told]:
    """Write the recipes as files and return their truths."""
    pantry, made = Pantry(catalog), told_recipes(catalog)
    for number, told in enumerate(made):
        node = _node(told, number, _FAMILIES[number % len(_FAMILIES)][2], pantry)
        text, suffix = _document(node, number)
        (folder / f"recipe_{number:03}{suffix}").write_text(text, encoding="utf-8")
    return made


def _node(told: Told, number: int, category: str, pantry: Pantry) -> dict[str, Any]:
    cook = told.hob_minutes + told.oven_minutes
    yields: tuple[Any, ...] = (
        "4", "4 servings", ["4", "4 servings"], "Serves 4", 4, "Makes 4 portions",
        {"@type": "QuantitativeValue", "value": 4, "unitText": "servings"}, "4-6 servings",
    )  # fmt: skip
    node: dict[str, Any] = {
        "@type": ["Recipe", "NewsArticle"] if number % 5 == 0 else "Recipe",
        "name": html.escape(told.name) if number % 2 else told.name,
        "recipeYield": yields[number % len(yields)],
        "prepTime": f"PT{told.prep_minutes}M",
        "cookTime": f"PT0H{cook}M" if number % 2 else f"PT{cook}M",
        "recipeCategory": [category] if number % 3 else category,
        "recipeIngredient": told.sentences,
        "recipeInstructions": _instructions(told.steps, number),
    }
    if number % 11 == 3:
        node["totalTime"] = f"PT{told.prep_minutes + cook}M"
        del node["prepTime"]
    if number % 4 == 0:
        kcal = sum(g * float(pantry.foods[f]["energy_kcal"]) / 100 for f, g in told.grams.items())
        claimed = kcal / SERVINGS * (2.0 if number == 40 else 1.05)
        node["nutrition"] = {"@type": "NutritionInformation", "calories": f"{claimed:.0f} kcal"}
    return node


def _instructions(steps: list[str], number: int) -> Any:
    whole = [{"@type": "HowToStep", "name": step[:12], "text": step} for step in steps]
    return (
        whole,
        steps,
        "\n".join(f"{nth}. {step}" for nth, step in enumerate(steps, 1)),
        [{"@type": "HowToSection", "name": "Method", "itemListElement": whole}],
        "".join(f"<p>{step}</p>" for step in steps),
        {"@type": "ItemList", "itemListElement": whole},
    )[number % 6]


def _document(node: dict[str, Any], number: int) -> tuple[str, str]:
    """Return the text of a file, and its suffix."""
    bare = {"@context": "https://schema.org", **node}
    form = number % 5
    if form == 0:
        return json.dumps(bare), ".json"
    if form == 1:
        return json.dumps([bare], indent=1, ensure_ascii=False), ".jsonld"
    if form == 2:
        prefixed = {k if k.startswith("@") else f"schema:{k}": v for k, v in node.items()}
        return json.dumps({"@context": {"schema": "http://schema.org/"}, **prefixed}), ".json"
    if form == 3:
        graph = {"@context": "https://schema.org", "@graph": [{"@type": "WebSite"}, node]}
        return _page(graph, ""), ".html"
    page = {"@context": "http://schema.org", "@type": "WebPage", "mainEntity": node}
    return _page(
        page, '<script type="application/ld+json">{"@type": "Organization"}</script>'
    ), ".html"


def _page(data: Any, before: str) -> str:
    script = json.dumps(data, ensure_ascii=False).replace("</", "<\\/")
    return (
        f"<!doctype html><html><head><title>A recipe</title>{before}"
        f'<script type="application/ld+json">\n{script}\n</script></head><body></body></html>\n'
    )
