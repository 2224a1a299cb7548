"""What clients ask of groups, beside what the plan has: the rows as a coach reads them."""

from __future__ import annotations

from pathlib import Path

from kitchens import tiny_catalog_files, tiny_client, write_kitchen
from planopt.pipeline import make_plan
from planopt.report.analysis.groupsmet import groups_met
from planopt.report.markdown.document import report_markdown
from planopt.scenario.reading.load import load_kitchen
from planopt.solve.settings import SolveSettings

GROUPS = {"lentils_red_dry": "legumes", "onion": "vegetables", "egg": "eggs"}


def test_needs_stand_beside_what_is_got(tmp_path: Path) -> None:
    """Soup has 80 g of lentils and 55 g of onion a serving, egg rice 40 g of onion and 100 of egg.

    Of three days the first and the last ask for vegetables; a need that is missed says NO.
    """
    first, *rows = tiny_catalog_files()["foods.csv"].splitlines()
    foods = [f"{first},groups", *(f"{r},{GROUPS.get(r.split(',')[0], '')}" for r in rows)]
    recipe = "recipes/lentil_soup.yaml"
    soup = tiny_catalog_files()[recipe].replace("yield_servings", "groups: [warm]\nyield_servings")
    ana = tiny_client(
        most_meals_with={"legumes": 3}, least_meals_of={"warm": 1}, dislikes={"onion": 6},
        windows_on_days={1: {"vegetables_g": {"min": 95}}, 3: {"vegetables_g": {"max": 400}}},
        windows_per_week={"eggs_g": {"min": 300}},
    )  # fmt: skip
    files = {"foods.csv": "\n".join(foods) + "\n", recipe: soup}
    kitchen = load_kitchen(write_kitchen(tmp_path, files=files, clients=[ana]))
    plan = make_plan(kitchen, SolveSettings(gap=0.5, work_limit=1000, threads=1))
    (rows_of_ana,) = groups_met(plan, kitchen.catalog, kitchen.scenario).values()
    told = {what: (needs, met) for what, needs, _, met in rows_of_ana}
    assert told == {
        "Meals with onion": ("at most 6", "yes"),
        "Meals with legumes": ("at most 3", "yes"),
        "Meals with recipes of warm": ("at least 1", "yes"),
        "Vegetables a day": ("at least 95 g; at most 400 g", "yes"),
        "Eggs over the plan": ("at least 300 g", "yes"),
    }
    soups = sum(row.recipe_id == "lentil_soup" for row in plan.portions)
    got = {what: count for what, _, count, _ in rows_of_ana}
    assert got["Meals with legumes"] == got["Meals with recipes of warm"] == str(soups)
    assert "| Meals with legumes" in report_markdown(plan, kitchen.catalog, kitchen.scenario)
    stricter = ana | {"most_meals_with": {"legumes": 0}}
    week = kitchen.scenario.model_copy(
        update={"clients": (type(kitchen.scenario.clients[0]).model_validate(stricter),)}
    )
    missed = {row[0]: row[1:] for row in groups_met(plan, kitchen.catalog, week)["ana"]}
    assert missed["Meals with legumes"] == ("at most 0", str(soups), "NO")
