"""What is settled by hand and cannot be: each fault with its exact text."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from kitchens import tiny_client, write_kitchen
from planopt.faults import BadInput
from planopt.scenario.households.parties import load_kitchens
from planopt.scenario.households.paths import check_paths

PUT = {"put": "egg_rice", "day": 2, "meal": "dinner"}


def plates(*rules: dict[str, Any]) -> dict[str, Any]:
    """Return the key of a scenario with these rules."""
    return {"by_hand": {"plates": list(rules)}}


CASES: list[tuple[str, dict[str, Any], str, str, str]] = [
    (
        "put_or_without",
        plates({"day": 2, "meal": "dinner"}),
        "by_hand.plates[0]: ''",
        "a rule either puts a recipe on plates or keeps one off",
        "write one of put and without",
    ),
    (
        "no_plate_meant",
        plates({**PUT, "client": "ana"}) | {"clients": [tiny_client(away={"days": [2]})]},
        "by_hand.plates[0]: 'egg_rice'",
        "no plate of the plan is meant: nobody eats such a meal from this kitchen then",
        "correct client, day or meal, or remove the rule",
    ),
    (
        "put_without_meal",
        plates({"put": "egg_rice", "day": 2}),
        "by_hand.plates[0]: 'egg_rice'",
        "a dish is put on one meal of a day, and no meal is named",
        "add meal: with one of: dinner, lunch",
    ),
    (
        "put_at_wrong_meal",
        plates({"put": "oat_porridge", "day": 2, "meal": "dinner"}),
        "by_hand.plates[0].meal: 'dinner'",
        "oat_porridge is for breakfast",
        "put it on such a meal, or add dinner to the meals of the recipe",
    ),
    (
        "put_left_out",
        plates(PUT) | {"recipes": {"exclude": ["egg_rice"]}},
        "by_hand.plates[0].put: 'egg_rice'",
        "recipes of this scenario leaves it out",
        "let recipes have it, or put another one",
    ),
    (
        "put_excluded",
        plates(PUT) | {"clients": [tiny_client(excluded_recipes=["egg_rice"])]},
        "by_hand.plates[0].put: 'egg_rice'",
        "every version of it has something that ana must not eat",
        "name the clients who may eat it, one rule each, or put another recipe",
    ),
    (
        "put_portion",
        plates({**PUT, "servings": 1.25}),
        "by_hand.plates[0].servings: '1.25'",
        "ana has 0.5 to 2 servings in steps of 0.5",
        "write such an amount, or change the portions of the client",
    ),
    (
        "plate_crowded",
        plates(PUT, {**PUT, "put": "lentil_soup"}),
        "by_hand.plates: 'ana, day 2, dinner'",
        "2 dishes are put there: egg_rice, lentil_soup",
        "a meal has at most 1: remove the others",
    ),
    (
        "plate_crowded",
        plates(PUT, {"without": "egg_rice", "day": 2}),
        "by_hand.plates: 'ana, day 2, dinner'",
        "egg_rice is both put there and kept off",
        "remove one of the two rules",
    ),
    (
        "done_twice",
        {"by_hand": {"bought": [{"pack": "eggs_6", "count": n, "day": 1} for n in (1, 2)]}},
        "by_hand.bought[1]: 'eggs_6, 1'",
        "it is listed twice",
        "add the two up in one entry",
    ),
    (
        "unknown_shop_day",
        {"by_hand": {"bought": [{"pack": "eggs_6", "count": 1, "day": 2}]}},
        "by_hand.bought[0].day: '2'",
        "nothing is bought on this day",
        "use one of: 1",
    ),
    (
        "unknown_pack",
        {"by_hand": {"bought": [{"pack": "eggs_7", "count": 1, "day": 1}]}},
        "by_hand.bought[0].pack: 'eggs_7'",
        "no seller of the scenario has such a pack",
        "did you mean 'eggs_6'?",
    ),
    (
        "batch_step_missed",
        {"by_hand": {"cooked": [{"recipe": "lentil_soup", "batches": 0.75, "day": 1}]}},
        "by_hand.cooked[0].batches: '0.75'",
        "lentil_soup is cooked in steps of 0.5 of a batch",
        "write such an amount; what was lost of it goes into lost",
    ),
]


@pytest.mark.parametrize(
    ("code", "keys", "where", "why", "mend"),
    CASES,
    ids=[f"{c[0]}_{n}" for n, c in enumerate(CASES)],
)
def test_the_text_of_a_fault_by_hand(
    tmp_path: Path, code: str, keys: dict[str, Any], where: str, why: str, mend: str
) -> None:
    """The whole text of the one fault, but for its file and line."""
    (fault,) = check_paths([write_kitchen(tmp_path, **keys)])
    _, _, rest = fault.text().partition("scenario.yaml:")
    line, _, said = rest.partition(": ")
    assert int(line) > 10
    assert said == f"{where} [{code}]\n    why: {why}\n    mend: {mend}"


def test_ready_portions_are_of_one_kitchen(tmp_path: Path) -> None:
    """A scenario of several kitchens says so."""
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", household="hill")]
    entry = {"recipe": "lentil_soup", "servings": 2, "cooked_on": "2026-11-20",
             "use_by": "2026-12-20"}  # fmt: skip
    path = write_kitchen(tmp_path, clients=clients, ready_portions=[entry])
    (fault,) = [fault for fault in check_paths([path]) if fault.code == "ready_of_one_kitchen"]
    assert fault.why == "boxes of earlier weeks are in the fridge or freezer of one kitchen"
    assert fault.mend == "take them out here, and plan that kitchen by itself with `planopt plan`"


def test_settled_by_hand_is_for_one_kitchen(tmp_path: Path) -> None:
    """A scenario of several kitchens says so, and points at adjust."""
    clients = [tiny_client(), tiny_client(id="ben", name="Ben", household="hill")]
    path = write_kitchen(tmp_path, clients=clients, **plates(PUT))
    try:
        load_kitchens(path)
        faults = []
    except BadInput as error:
        faults = list(error.faults)
    (fault,) = [fault for fault in faults if fault.code == "by_hand_one_kitchen"]
    assert fault.why == "what is settled by hand is for the plan of one kitchen"
    assert fault.mend == "take it out here, and adjust the kitchen's plan with `planopt adjust`"
