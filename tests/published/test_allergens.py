"""Allergen groups against the US and EU lists.

Sources: FALCPA 2004 and the FASTER Act 2021 (US, nine groups); Regulation (EU) No 1169/2011
Annex II (fourteen groups). Annex II's exemptions for refined derivatives are not used.
"""

from __future__ import annotations

import re

import pytest

from published.catalogtables import SEEN, catalog_rows, foods
from published.dietproblems import rows_of

OURS = {
    "milk": "milk",
    "egg": "egg",
    "eggs": "egg",
    "fish": "fish",
    "crustacean shellfish": "crustaceans",
    "crustaceans": "crustaceans",
    "molluscs": "molluscs",
    "tree nuts": "tree_nuts",
    "nuts": "tree_nuts",
    "peanut": "peanut",
    "peanuts": "peanut",
    "wheat": "wheat",
    "cereals containing gluten": "gluten_cereals",
    "soybean": "soy",
    "soybeans": "soy",
    "sesame": "sesame",
    "sesame seeds": "sesame",
    "celery": "celery",
    "mustard": "mustard",
    "sulphur dioxide and sulphites": "sulphites",
    "lupin": "lupin",
}
# Words of a food's description that give away a group, and words that only look like it.
TELLTALES = {
    "milk": (r"^milk|^cheese|yogurt|^cream|^butter,|whey", r"^$"),
    "egg": (r"^egg,|noodles, egg|mayonnaise", r"^$"),
    "fish": (r"^fish,|sauce, fish|worcestershire", r"^$"),
    "crustaceans": (r"^crustaceans", r"^$"),
    "molluscs": (r"^mollusks", r"^$"),
    "tree_nuts": (r"almond|walnut|cashew|hazelnut|pecan|pistachio", r"^$"),
    "peanut": (r"peanut", r"^$"),
    "wheat": (r"wheat|bread|flour|pasta|couscous|bulgur|noodles, egg|cracker", r"buckwheat|corn"),
    "gluten_cereals": (r"wheat|barley|\brye\b|\boats\b|bread|pasta|couscous|bulgur", r"buckwheat"),
    "soy": (r"soy|tofu|tempeh|edamame", r"^$"),
    "sesame": (r"sesame|tahini|hummus", r"^$"),
    "celery": (r"^celery", r"^$"),
    "mustard": (r"^mustard", r"^$"),
    "sulphites": (r", sulfured", r"^$"),
}


@pytest.mark.parametrize(
    "row", rows_of("allergens_published.csv"), ids=lambda r: f"{r['jurisdiction']}{r['number']}"
)
def test_published_group_is_in_the_catalog(row: dict[str, str]) -> None:
    """FALCPA, FASTER Act, EU 1169/2011: each listed group is there with its number of the list."""
    assert row["status"] in SEEN
    catalog = {group["allergen_id"]: group for group in catalog_rows("allergens")}
    column = "us_number" if row["jurisdiction"] == "US" else "eu_number"
    assert catalog[OURS[row["allergen"]]][column] == row["number"]


def test_catalog_has_no_group_outside_the_lists() -> None:
    """FALCPA, FASTER Act, EU 1169/2011: a group without a number is on no published list."""
    for group in catalog_rows("allergens"):
        number = group["us_number"] or group["eu_number"]
        assert number or group["allergen_id"] == "wheat"
        assert group["allergen_id"] in OURS.values()


@pytest.mark.parametrize("allergen", TELLTALES)
def test_foods_whose_name_tells_an_allergen_carry_it(allergen: str) -> None:
    """FALCPA, FASTER Act, EU 1169/2011: a food that names an allergen in SR28 is marked with it."""
    names, lookalikes = TELLTALES[allergen]
    found = 0
    for food, row in foods().items():
        description = row["sr28_description"].lower()
        if re.search(names, description) and not re.search(lookalikes, description):
            assert allergen in row["allergens"].split("|"), food
            found += 1
    assert found > 0
