"""The division of a kitchen's bill: exact to the cent, by a rule that can be followed by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planopt.plan.records import Plan
from planopt.plan.split import Share, by_weights, eaten_g, split_bill, split_portions
from report_samples import sample_plan

_WEIGHTS = st.lists(st.fractions(min_value=0, max_value=1000), min_size=1, max_size=12)


@settings(deadline=None)
@given(st.integers(0, 10**7), _WEIGHTS)
def test_parts_add_up_and_are_within_one_of_their_quota(
    total: int, weights: list[Fraction]
) -> None:
    """Whatever the weights, nothing is lost, and no part is a whole unit from its exact share."""
    parts = by_weights(total, weights)
    assert sum(parts) == total
    whole = sum(weights)
    for part, weight in zip(parts, weights, strict=True):
        quota = total * weight / whole if whole else Fraction(total, len(weights))
        assert abs(part - quota) < 1
        if whole and not weight:
            assert part == 0


@settings(deadline=None)
@given(st.integers(0, 400), st.lists(st.integers(0, 9), min_size=1, max_size=3))
def test_parts_are_the_nearest_division(total: int, weights: list[int]) -> None:
    """No other whole division lies nearer to the quotas; Hamilton's method minimises that sum.

    Checked by trying every division whose parts are quotas rounded down, or one more.
    """
    parts = by_weights(total, [Fraction(weight) for weight in weights])
    whole = sum(weights)
    quotas = [
        Fraction(total * weight, whole) if whole else Fraction(total, len(weights))
        for weight in weights
    ]

    def distance(candidate: tuple[int, ...]) -> Fraction:
        return sum((abs(c - q) for c, q in zip(candidate, quotas, strict=True)), Fraction(0))

    near = [(int(quota), int(quota) + 1) for quota in quotas]
    others = [candidate for candidate in product(*near) if sum(candidate) == total]
    assert distance(tuple(parts)) == min(map(distance, others))


def test_equal_remainders_are_served_in_order() -> None:
    """A worked example: 100 among three equals is 34, 33, 33."""
    assert by_weights(100, [Fraction(1)] * 3) == [34, 33, 33]
    # Quotas 1.43, 2.86 and 5.71: the two units left go to the remainders .86 and .71.
    assert by_weights(10, [Fraction(1), Fraction(2), Fraction(4)]) == [1, 3, 6]
    assert by_weights(7, [Fraction(0), Fraction(0)]) == [4, 3]
    assert by_weights(0, [Fraction(5), Fraction(1)]) == [0, 0]


@pytest.mark.parametrize(
    ("total", "weights"), [(-1, [Fraction(1)]), (1, [Fraction(-1), Fraction(3)]), (1, [])]
)
def test_what_cannot_be_divided_is_refused(total: int, weights: list[Fraction]) -> None:
    """A negative total or weight, or nobody to divide among."""
    with pytest.raises(ValueError, match="a division needs"):
        by_weights(total, weights)


def test_each_food_goes_by_the_grams_eaten() -> None:
    """A worked example on the sample plan, followed by hand.

    Haddock, 12.70: only in the bake, of which Ana eats 2.5 and Ben 3 servings of the 5.5 eaten.
    Potato, 2.40: 337.5 g in the bake's 6 servings, 56.25 g each, and 200 g in each of 4 servings
    of mash. Ana: 2.5 x 56.25 + 2 x 200 = 540.625 g; Ben: 3 x 56.25 + 2 x 200 = 568.75 g.
    Ana: 12.70 x 2.5 / 5.5 + 2.40 x 540.625 / 1109.375 = 5.77272... + 1.16957... = 6.94230...
    Visits, 2.00: by the same sums, 2.00 x 6.94230 / 15.10 = 0.91951...
    """
    shares = split_bill(sample_plan(), ["ana", "ben"])
    assert shares == [Share("ana", 694, 92), Share("ben", 816, 108)]
    assert [share.total_minor for share in shares] == [786, 924]
    assert sum(share.total_minor for share in shares) == 1710


def test_a_food_bought_on_two_days_is_paid_for_twice() -> None:
    """Two rows of one pack each come to the same as one row of two packs."""
    plan = sample_plan()
    fish, *others = plan.purchases
    assert fish.count == 2
    one = fish.model_copy(update={"count": 1, "price": fish.price_each, "edible_g": 500})
    apart = plan.model_copy(
        update={"purchases": (one, one.model_copy(update={"shop_day": 1}), *others)}
    )
    assert split_bill(apart, ["ana", "ben"]) == split_bill(plan, ["ana", "ben"])
    shares = split_bill(plan, ["ana", "ben"])
    assert split_portions(apart, shares) == split_portions(plan, shares)


def test_who_does_not_eat_a_food_does_not_pay_for_it() -> None:
    """Without haddock on Ana's plate, Ben pays all of it; who eats nothing pays nothing."""
    plan = sample_plan()
    kept = tuple(
        p for p in plan.portions if p.client_id == "ben" or p.recipe_id != "fish_bake"
    )  # fmt: skip
    plan = plan.model_copy(update={"portions": kept})
    ana, ben, guest = split_bill(plan, ["ana", "ben", "guest"])
    # Ana's mash against Ben's mash and bake, as above: 400 g against 568.75 g.
    potato = round(240 * Fraction(400) / (400 + Fraction("568.75")))
    assert ana.groceries_minor == potato
    assert ben.groceries_minor == 1510 - potato
    assert guest == Share("guest", 0, 0)


def test_grams_eaten_are_those_of_the_portions() -> None:
    """Food in servings that nobody eats belongs to nobody; stock counts like bought food."""
    eaten = eaten_g(sample_plan())
    assert eaten["haddock"] == {"ana": Fraction(375), "ben": Fraction(450)}
    assert eaten["parsley"] == {"ana": Fraction("6.25"), "ben": Fraction("7.5")}


@settings(deadline=None)
@given(
    st.integers(0, 99999),
    st.integers(0, 9999),
    st.lists(st.sampled_from([0.5, 1.0, 1.5, 2.0]), min_size=7, max_size=7),
)
def test_shares_add_up_to_any_bill(grocery: int, visits: int, servings: list[float]) -> None:
    """Groceries and visits are each divided without a rest, whoever eats how much."""
    plan = _with(sample_plan(), grocery, visits, servings)
    shares = split_bill(plan, ["ana", "ben"])
    assert sum(share.groceries_minor for share in shares) == grocery
    assert sum(share.visits_minor for share in shares) == visits
    assert all(share.total_minor >= 0 for share in shares)


@settings(deadline=None)
@given(
    st.integers(0, 99999),
    st.lists(st.sampled_from([0.5, 1.0, 1.5, 2.0]), min_size=7, max_size=7),
)
def test_portions_add_up_to_each_share(grocery: int, servings: list[float]) -> None:
    """What a client pays for groceries is divided among the client's portions without a rest."""
    plan = _with(sample_plan(), grocery, 100, servings)
    shares = split_bill(plan, ["ana", "ben"])
    parts = split_portions(plan, shares)
    for share in shares:
        mine = [
            part
            for part, portion in zip(parts, plan.portions, strict=True)
            if portion.client_id == share.client_id
        ]
        assert sum(mine) == share.groceries_minor
        assert min(mine) >= 0


def test_portions_of_one_dish_cost_as_their_servings() -> None:
    """Half a serving is half of a serving's food, and so of its money, within a cent."""
    plan = sample_plan()
    parts = split_portions(plan, split_bill(plan, ["ana", "ben"]))
    by_dish: dict[tuple[str, str, str, int], list[Fraction]] = {}
    for part, p in zip(parts, plan.portions, strict=True):
        key = (p.client_id, p.recipe_id, p.version, p.cook_day)
        by_dish.setdefault(key, []).append(Fraction(part) / Fraction(repr(p.servings)))
    compared = [each for each in by_dish.values() if len(each) > 1]
    assert compared
    for each in compared:
        assert max(each) - min(each) <= 4


def _with(plan: Plan, grocery: int, visits: int, servings: list[float]) -> Plan:
    solution = plan.solution.model_copy(
        update={
            "grocery_cost": Decimal(grocery).scaleb(-2),
            "visit_cost": Decimal(visits).scaleb(-2),
        }
    )
    portions = tuple(
        portion.model_copy(update={"servings": amount})
        for portion, amount in zip(plan.portions, servings, strict=True)
    )
    return plan.model_copy(update={"solution": solution, "portions": portions})


def test_clients_who_eat_alike_pay_alike() -> None:
    """Two clients with the same portions differ by at most one minor unit."""
    plan = sample_plan()
    bens = [p for p in plan.portions if p.client_id == "ben"]
    twins = tuple(p.model_copy(update={"client_id": name}) for name in ("ben", "bob") for p in bens)
    shares = split_bill(plan.model_copy(update={"portions": twins}), ["ben", "bob"])
    assert abs(shares[0].total_minor - shares[1].total_minor) <= 2
    assert abs(shares[0].groceries_minor - shares[1].groceries_minor) <= 1


def test_by_the_costs_alone_nobody_pays_more_than_alone() -> None:
    """The property claimed for the other rule, while sharing saves: within the last minor unit."""
    alone = [Fraction(900), Fraction(701), Fraction(333)]
    for total in (0, 1, 1500, 1933, 1934):
        parts = by_weights(total, alone)
        assert all(part <= cost for part, cost in zip(parts, alone, strict=True))


def test_by_food_somebody_may_pay_more_than_alone() -> None:
    """The property not claimed: a client who eats from others' dear pack can pay more than alone.

    Ana and Ben share a dear pack by halves; Ana alone would have bought potatoes for 2.00.
    """
    plan = sample_plan()
    purchase = plan.purchases[0]
    bake = plan.batches[0]
    only_fish = bake.model_copy(update={"lines": bake.lines[:1]})
    portions = tuple(p for p in plan.portions if p.recipe_id == "fish_bake")
    shared = plan.model_copy(
        update={
            "purchases": (purchase,), "batches": (only_fish,), "portions": portions,
            "solution": plan.solution.model_copy(
                update={"grocery_cost": purchase.price, "visit_cost": Decimal(0)}
            ),
        }
    )  # fmt: skip
    ana = split_bill(shared, ["ana", "ben"])[0]
    assert ana.total_minor > 200
