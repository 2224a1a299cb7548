"""What binds a plan: windows at their edge and limits of the kitchen."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planopt.report.analysis.binding import kitchen_limits, window_edges
from planopt.report.analysis.tables import records
from planopt.scenario.records import Window
from report_samples import sample_catalog, sample_plan, sample_scenario


def test_edges_are_counted_by_client_and_window() -> None:
    """Ana eats 548 kcal on day 1 and 468 on day 2: near a most of 550, and near a least of 460."""
    scenario = sample_scenario()
    ana = scenario.clients[0].model_copy(
        update={"windows_per_day": {"energy_kcal": Window(min=460, max=550)}}
    )
    rows = records(
        window_edges(
            sample_plan(), sample_catalog(), scenario.model_copy(update={"clients": (ana,)})
        )
    )
    (energy,) = [row for row in rows if row["per"] == "day"]
    assert (energy["lowest"], energy["highest"]) == pytest.approx((468, 548))
    assert (energy["days_at_min"], energy["days_at_max"]) == (1, 1)
    assert (energy["days"], energy["days_met"]) == (2, 2)
    (protein,) = [row for row in rows if row["per"] == "week"]
    # 20 g a serving, 1 + 1.5 + 1 + 1 servings.
    assert protein["lowest"] == pytest.approx(90)
    assert (protein["days_at_min"], protein["days_at_max"]) == (0, 0)


def test_days_with_another_window_stand_apart() -> None:
    """Ben's day with lunch elsewhere has a window of half the size, in a row of its own."""
    rows = records(window_edges(sample_plan(), sample_catalog(), sample_scenario()))
    ben = [(row["min"], row["max"], row["days"]) for row in rows if row["client_id"] == "ben"]
    assert ben == [(400, 900, 1), (200, 450, 1)]


def test_limits_are_those_of_the_cook_day() -> None:
    """Hands-on: fish 20 + 0.5 x 10, mash 15 + 5; the second cook day cooks nothing."""
    scenario = sample_scenario().model_copy(update={"budget": Decimal("20.00")})
    rows = records(kitchen_limits(sample_plan(), sample_catalog(), scenario))
    told = {row["what"]: (row["used"], row["limit"]) for row in rows}
    assert told["budget"] == (15.10, 20.0)
    assert told["hands-on minutes"] == (45, 90)
    assert told["oven minutes"][0] == 45
    assert told["hob minutes"][0] == 15
    assert told["recipes"][0] == 2
    assert {row["cook_day"] for row in rows} == {0}
