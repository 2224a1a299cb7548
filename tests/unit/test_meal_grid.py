"""The grid of each client's week, cell by cell."""

from __future__ import annotations

from planopt.report.analysis.mealgrid import meal_grid
from planopt.scenario.records import MealWindow, PlateWindow
from planopt.scenario.samedish import SameDish
from report_samples import sample_plan, sample_scenario


def test_each_cell_has_energy_its_window_and_grams() -> None:
    """A meal away is a dash, one outside its window is told, and what repeats is marked."""
    grid = meal_grid(sample_plan(), sample_scenario())
    assert grid.usual
    ana, ben = grid.clients
    assert ana.meals == ("lunch", "dinner")
    # Lunch and dinner alone: 25 to 45 % become 38.4 to 69.1 % of 800 (the floor) and of 900 kcal.
    assert ana.rows == (
        ("Mon 2027-01-04", "308 (307 to 622), 200 g", "240 (307 to 622), 313 g, OUTSIDE"),
        (
            "Tue 2027-01-05",
            "308 (307 to 622), 200 g, again",
            "160 (307 to 622), 209 g, OUTSIDE, again",
        ),
    )
    assert ben.rows[1][1] == "-"


def test_written_windows_take_the_place_of_the_usual_ones() -> None:
    """Amounts, shares and grams that are written are shown, and none is said to be usual."""
    lunch = {"energy_kcal": MealWindow(min=100, max="40%")}
    week = sample_scenario().model_copy(
        update={
            "meal_defaults": "off",
            "windows_per_meal": {"lunch": lunch},
            "plate_g": PlateWindow(max=300),
        }
    )
    grid = meal_grid(sample_plan(), week)
    assert not grid.usual
    assert grid.clients[0].rows[0] == (
        "Mon 2027-01-04",
        "308 (100 to 360), 200 g (at most 300)",
        "240, 313 g (at most 300), OUTSIDE",
    )


def test_meals_that_share_a_dish_are_told_and_are_no_repeat() -> None:
    """What the scenario ties is marked as tied, in place of again."""
    rows = (SameDish(meals=("lunch",), clients=("ana",), across="days"),)
    week = sample_scenario().model_copy(update={"same_dish": rows})
    grid = meal_grid(sample_plan(), week)
    assert grid.tied
    (_, monday, _), (_, tuesday, dinner) = grid.clients[0].rows
    assert monday == "308 (307 to 622), 200 g, tied"
    assert tuesday == monday
    assert dinner.endswith("again")
    assert not meal_grid(sample_plan(), sample_scenario()).tied
