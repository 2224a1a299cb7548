"""`planopt recipe`: figures of the tiny kitchen by hand, label rules, swaps, the command."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from typer.testing import CliRunner

from kitchens import edited, tiny_catalog_files, write_catalog
from planopt import cli
from planopt.catalog.load import load_catalog
from planopt.facts.recipe import FactsOf
from planopt.facts.rounding import rounded
from planopt.facts.text import facts_text
from planopt.faults import ExitCode
from shipped import shipped_catalog

runner = CliRunner()
ROOT = Path(__file__).resolve().parents[2]
CHOICE = {
    "recipes/lentil_soup.yaml": tiny_catalog_files()["recipes/lentil_soup.yaml"]
    .replace(
        "{food: lentils_red_dry, amount: 320, unit: g}",
        "{food: lentils_red_dry, amount: 320, unit: g, key: grain, alternatives: "
        "[{food: oats_rolled, ratio: 0.5}]}",
    )
    .replace("amount: 2, unit: each}", "amount: 2, unit: each, optional: true, key: onion}")
    .replace("Soften the onion, add lentils", "[Soften the {onion}, ]add {grain}")
}


def facts_of(tmp_path: Path, recipe_id: str, servings: int | None = None):  # type: ignore[no-untyped-def]
    """Return the facts of a recipe of the tiny kitchen, with its catalog."""
    catalog = load_catalog(write_catalog(tmp_path / "c", CHOICE))
    asked = None if servings is None else Fraction(servings)
    return FactsOf(catalog, "USD").facts(catalog.recipes[recipe_id], asked), catalog


def test_a_serving_by_hand(tmp_path: Path) -> None:
    """Lentil soup: 320 g lentils and 220 g onion for four; money by the gram and by the pack."""
    facts, _ = facts_of(tmp_path, "lentil_soup", 6)
    assert (facts.batches, facts.fits) == (Fraction(3, 2), True)
    assert facts.line_g == (320, 220, 1200)
    energy = (3.2 * 358 + 2.2 * 40) / 4
    assert facts.version.nutrients["energy_kcal"] == pytest.approx(energy)
    # 480 g lentils of 0.42 a 100 g; 330 g onion edible, of 0.18 a 90 g edible.
    assert float(facts.cost.used) == pytest.approx(480 * 2.10 / 500 + 330 * 0.18 / 90)
    # One bag, and four steps of a hundred grams.
    assert facts.cost.packs == Decimal("2.82")
    assert facts.cost.unpriced == ()
    assert facts.version.keeping.fridge_days == (3, 4)
    assert facts.version.keeping.freezer_months == (2, 2)


def test_what_a_change_does_to_a_serving(tmp_path: Path) -> None:
    """Half the grams of oats for lentils; no onion."""
    facts, catalog = facts_of(tmp_path, "lentil_soup")
    oats, none = facts.substitutes
    assert oats.nutrients["energy_kcal"] == pytest.approx((1.6 * 379 - 3.2 * 358) / 4)
    assert float(oats.cost) == pytest.approx((160 * 1.60 / 500 - 320 * 2.10 / 500) / 4)
    assert oats.more_allergens == ("gluten_cereals",)
    assert none.new is None
    assert float(none.cost) == pytest.approx(-220 * 0.18 / 90 / 4)
    text = facts_text(facts, catalog, "us")
    assert "- rolled oats for red lentils: -135 kcal energy" in text
    assert "brings cereals with gluten" in text
    assert "- without onion: -22 kcal energy" in text
    assert "1. Soften the onion, add red lentils and water" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_what_is_not_known_or_not_sold_is_said(tmp_path: Path) -> None:
    """At least so much energy, at least so dear; allergens that nobody knows."""
    files = {
        "foods.csv": tiny_catalog_files()["foods.csv"]
        .replace('raw, enriched",365,', 'raw, enriched",,')
        .replace("0.88,,egg,", "0.88,,,"),
        **edited("packs.csv", "rice_1kg,rice_white_long", "rice_1kg,oats_rolled"),
    }
    catalog = load_catalog(write_catalog(tmp_path / "c", files))
    facts = FactsOf(catalog, "USD").facts(catalog.recipes["egg_rice"], Fraction(3))
    text = facts_text(facts, catalog, "us")
    assert not facts.fits
    assert "A plan cooks it in whole batches only" in text
    assert "kcal+" in text
    assert "+ or more: not known for white rice, counted as 0 there." in text
    assert "at least " in text
    assert "Not sold in USD: white rice." in text
    assert "Allergens: none that the catalog lists. Not known for egg." in text
    assert "Heat egg to 71.1 C inside." in text


def test_every_shipped_recipe_has_its_facts_within_eighty_columns() -> None:
    """No food of the shipped catalog lacks a price, and no text runs over."""
    catalog = shipped_catalog()
    facts_of_all = FactsOf(catalog, "USD")
    for recipe in catalog.recipes.values():
        facts = facts_of_all.facts(recipe)
        assert facts.cost.unpriced == ()
        assert facts.cost.packs >= facts.cost.used - Fraction(1, 100)
        for line in facts_text(facts, catalog, "eu").splitlines():
            assert len(line) <= 80, line


def examples() -> list[tuple[str, str, str]]:
    """Return nutrient, amount and what is declared of the published examples that we cover."""
    ids = {"energy": "energy_kcal", "total_fat": "fat_g", "cholesterol": "cholesterol_mg"}
    ids |= {"sodium": "sodium_mg", "total_carbohydrate": "carbohydrate_g", "protein": "protein_g"}
    with (ROOT / "tests/published/data/label_rounding_examples.csv").open() as file:
        rows = list(csv.DictReader(file))
    words = {"less than 1 g": "under 1", "less than 5 mg": "under 5"}
    found = []
    for row in rows:
        told = row["declared"].split(" (")[0].split(",")[0]
        found.append((ids[row["nutrient"]], row["amount"], words.get(told, told)))
    return found


@pytest.mark.parametrize(("nutrient_id", "amount", "told"), examples())
def test_us_labels_round_as_the_published_examples(
    nutrient_id: str, amount: str, told: str
) -> None:
    """FDA, A Food Labeling Guide, Appendix H; sodium and cholesterol among them."""
    assert rounded(nutrient_id, float(amount), "us") == told


@pytest.mark.parametrize(
    ("nutrient_id", "amount", "told"),
    [
        ("energy_kcal", 430.9, "431"),
        ("protein_g", 13.69, "14"),
        ("protein_g", 9.44, "9.4"),
        ("protein_g", 0.5, "0"),
        ("saturated_fat_g", 0.5, "0.5"),
        ("saturated_fat_g", 0.1, "0"),
        ("sodium_mg", 78.6, "80"),
        ("sodium_mg", 1234, "1200"),
        ("sodium_mg", 5, "0"),
        ("iron_mg", 3.1, ""),
    ],
)
def test_eu_labels_round_as_the_guidance(nutrient_id: str, amount: float, told: str) -> None:
    """Bands of the European Commission's guidance of December 2012, from memory."""
    assert rounded(nutrient_id, amount, "eu") == told


def test_the_command(tmp_path: Path) -> None:
    """Text, data, and what is refused."""
    folder = str(write_catalog(tmp_path / "c"))
    words = ["recipe", "lentil_soup", "--catalog", folder]
    result = runner.invoke(cli.app, [*words, "--servings", "6"])
    assert result.exit_code == ExitCode.OK, result.output
    assert "6 servings, 1.5 of a batch of 4" in result.stdout
    data = json.loads(runner.invoke(cli.app, [*words, "--json", "--label", "eu"]).stdout)
    assert data["label"]["energy_kcal"] == "308"
    assert data["cost_per_serving_in_packs"] == pytest.approx((2.10 + 3 * 0.18) / 4)
    one = json.loads(runner.invoke(cli.app, [*words, "--json", "--seller", "corner"]).stdout)
    assert one["not_sold"] == ["onion"]
    for extra, hint in (
        (["--servings", "0"], "0.01"),
        (["--seller", "crner"], "did you mean 'corner'?"),
        (["--currency", "EUR"], "use one of: USD"),
        (["--label", "uk"], "us, eu"),
    ):
        result = runner.invoke(cli.app, [*words, *extra])
        assert result.exit_code == ExitCode.USAGE
        assert hint in result.output
    result = runner.invoke(cli.app, ["recipe", "lentl_soup", "--catalog", folder])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "did you mean 'lentil_soup'?" in result.output
