"""JSON-LD as pages have it: every form of the standard gives the same recipe."""

from __future__ import annotations

import json
from typing import Any

import pytest

from planopt.intake.jsonld import recipes_in
from planopt.intake.source import SourceRecipe, duration_minutes, read_source

RECIPE: dict[str, Any] = {
    "@type": "Recipe",
    "name": "Pea soup",
    "recipeYield": "4",
    "prepTime": "PT10M",
    "recipeIngredient": ["200 g split peas", "1 onion"],
    "recipeInstructions": [{"@type": "HowToStep", "text": "Simmer for an hour."}],
}
CONTEXT = {"@context": "https://schema.org"}


def read(text: str) -> list[SourceRecipe]:
    """Return the recipes of a text, which must be sound JSON."""
    nodes, bad = recipes_in(text)
    assert bad == []
    return [read_source(node, "file") for node in nodes]


def page(script: str, kind: str = "application/ld+json") -> str:
    """Return a page with one script."""
    return f'<!doctype html>\n<html><head>\n<script type="{kind}">{script}</script></head></html>'


PLAIN = read(json.dumps({**CONTEXT, **RECIPE}))


@pytest.mark.parametrize(
    "text",
    [
        json.dumps([{**CONTEXT, **RECIPE}]),
        "\ufeff" + json.dumps({**CONTEXT, **RECIPE}),
        json.dumps({**CONTEXT, "@graph": [{"@type": "WebSite", "name": "A site"}, RECIPE]}),
        json.dumps({**CONTEXT, "@type": "WebPage", "mainEntity": {**RECIPE}}),
        json.dumps({**CONTEXT, **RECIPE, "@type": ["Article", "Recipe"]}),
        json.dumps({**CONTEXT, **RECIPE, "@type": "https://schema.org/Recipe"}),
        json.dumps(
            {"@type": "schema:Recipe"}
            | {f"schema:{key}": value for key, value in RECIPE.items() if key != "@type"}
        ),
        json.dumps(
            {"@context": {"@vocab": "http://schema.org/"}, "@type": "http://schema.org/Recipe"}
            | {f"http://schema.org/{k}": v for k, v in RECIPE.items() if k != "@type"}
        ),
        json.dumps(
            {**CONTEXT, **RECIPE, "recipeIngredient": {"@list": RECIPE["recipeIngredient"]}}
        ),
        json.dumps({**CONTEXT, **RECIPE, "name": {"@value": "Pea soup", "@language": "en"}}),
        json.dumps({**CONTEXT, **RECIPE, "name": ["Pea soup", "Erbsensuppe"]}),
        json.dumps(
            [
                {**CONTEXT, **RECIPE, "recipeInstructions": [{"@id": "#one"}]},
                {"@id": "#one", "@type": "HowToStep", "text": "Simmer for an hour."},
            ]
        ),
        page(json.dumps({**CONTEXT, **RECIPE})),
        page(json.dumps({**CONTEXT, **RECIPE}), "application/LD+JSON; charset=utf-8"),
        page("\n<!--\n" + json.dumps({**CONTEXT, **RECIPE}) + "\n-->"),
        page("//<![CDATA[\n" + json.dumps({**CONTEXT, **RECIPE}) + "\n//]]>"),
        page('{"@type": "Organization"}').replace(
            "</head>", page(json.dumps(RECIPE)).split("<head>")[1]
        ),
        json.dumps({**CONTEXT, **RECIPE}).replace("Pea soup", "Pea\n soup"),
        json.dumps({**CONTEXT, **RECIPE, "name": "Pea&nbsp;<b>soup</b>"}),
    ],
)
def test_every_form_gives_the_same_recipe(text: str) -> None:
    """Lists, graphs, several types, prefixes, references, hidden scripts and mark-up."""
    assert read(text) == PLAIN


def test_a_page_may_have_several_recipes_or_none() -> None:
    """All are taken; scripts of another kind and other nodes are none."""
    two = [{**RECIPE, "name": "One"}, {**RECIPE, "name": "Two"}]
    assert [one.name for one in read(json.dumps(two))] == ["One", "Two"]
    assert read(page(json.dumps(RECIPE), "text/javascript")) == []
    assert read('{"@type": "HowTo", "name": "Sharpen a knife"}') == []


def test_what_is_no_json_is_told_with_its_line() -> None:
    """The line is that of the page, not of the script; sound scripts beside it count."""
    text = page('\n{"@type": "Recipe",\n "name" "x"}').replace(
        "</head>", page(json.dumps(RECIPE)).split("<head>")[1]
    )
    nodes, bad = recipes_in(text)
    assert [node["name"] for node in nodes] == ["Pea soup"]
    assert [(error.line, error.why) for error in bad] == [(5, "expecting ':' delimiter")]
    assert [error.line for error in recipes_in("")[1]] == [1]
    deep = "[" * 100_000
    assert recipes_in(deep)[1][0].why == "it is nested too deeply"


def test_a_node_that_refers_to_itself_ends() -> None:
    """A loop of references is cut, not followed."""
    nodes, _ = recipes_in(json.dumps({**RECIPE, "@id": "#x", "isPartOf": {"@id": "#x"}}))
    assert nodes[0]["isPartOf"]["name"] == "Pea soup"


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("PT45M", 45.0), ("PT1H", 60.0), ("PT1H15M", 75.0), ("P0DT1H30M", 90.0), ("P1DT2H", 1560.0),
        ("P1W", 10080.0), ("PT90S", 1.5), ("PT1.5H", 90.0), ("PT0,5H", 30.0), ("pt20m", 20.0),
        ("PT0M", 0.0), ("P1M", None), ("P1Y", None), ("PT", None), ("P", None), ("45 min", None),
        ("", None), ("PT-5M", None),
    ],
)  # fmt: skip
def test_durations_of_iso_8601(text: str, minutes: float | None) -> None:
    """Weeks to seconds, with decimals; months and years have no length, other text is none."""
    assert duration_minutes(text) == minutes


def steps(value: Any) -> tuple[str, ...]:
    """Return the steps that instructions give."""
    return read_source({**RECIPE, "recipeInstructions": value}, "file").steps


def test_instructions_in_all_forms() -> None:
    """Text with numbers or paragraphs, steps, sections, lists of items, and directions in steps."""
    one, two = "Soak the peas overnight.", "Simmer for an hour."
    whole = [{"@type": "HowToStep", "text": one}, {"@type": "HowToStep", "text": two}]
    assert steps(f"1. {one}\n2) {two}") == (one, two)
    assert steps(f"<p>{one}</p><p>Step 2: {two}</p>") == (one, two)
    assert steps([one, two]) == steps(whole) == (one, two)
    assert steps({"@type": "ItemList", "itemListElement": whole}) == (one, two)
    assert steps([{"@type": "HowToSection", "name": "Peas:", "itemListElement": whole}]) == (
        f"Peas: {one}",
        two,
    )
    told = [{"@type": "HowToDirection", "text": one}, {"@type": "HowToTip", "text": two}]
    assert steps([{"@type": "HowToStep", "itemListElement": told}]) == (f"{one} {two}",)
    assert steps([{"@type": "HowToStep", "name": two}]) == (two,)
    assert steps(None) == ()


def test_the_other_properties() -> None:
    """Yields as they come, times of several names, categories, claimed energy, what is not read."""
    source = read_source(
        {
            **RECIPE,
            "recipeYield": [
                4,
                {"@type": "QuantitativeValue", "value": 4.0, "unitText": "servings"},
            ],
            "cookTime": "an hour",
            "totalTime": "PT70M",
            "recipeCategory": "Soup, Dinner",
            "nutrition": {"@type": "NutritionInformation", "calories": "1,255 kJ"},
        },
        "file",
    )
    assert source.yields == ("4", "4 servings")
    assert (source.prep_minutes, source.cook_minutes, source.total_minutes) == (10.0, None, 70.0)
    assert source.unread == ("cookTime 'an hour'",)
    assert source.categories == ("Soup", "Dinner")
    assert source.kcal == pytest.approx(300, abs=0.1)
    older = read_source({"name": "x", "ingredients": "1 egg<br>\n2 onions"}, "file")
    assert older.sentences == ("1 egg", "2 onions")
    assert read_source({**RECIPE, "nutrition": {"calories": 270}}, "file").kcal == 270
