"""Gather what a run's folder holds: every client, every kitchen, and all that is to be bought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from planopt.catalog.load import catalog_sha256, load_catalog
from planopt.catalog.records import Catalog
from planopt.faults import BadInput
from planopt.overview.savings import Saving, saving_of
from planopt.plan.cautions import STANDING
from planopt.plan.file import read_plan
from planopt.plan.handles import plan_with_handles
from planopt.plan.records import Plan, Purchase
from planopt.plan.split import by_weights, split_bill
from planopt.report.words.plain import gap_text, money_code, pack_text, plain, seller_name
from planopt.runs.layout import RunFolder
from planopt.runs.records import ClientState, KitchenState, RunIndex, State
from planopt.scenario.households.handles import Handles, scenario_with_handles
from planopt.scenario.reading.load import load_scenario, scenario_sha256
from planopt.scenario.records import Client, Scenario
from planopt.scenario.references import guarded
from planopt.scenario.windows import window_bounds, written_windows
from planopt.tolerances import meets
from planopt.units import exact, from_minor, to_minor


@dataclass(frozen=True)
class ClientLine:
    """One client: the share of the bill, windows met of those set, and what to look at.

    `pays_by_alone` divides the bill by the costs of planning alone, where these are known.
    """

    kitchen_id: str
    client_id: str
    name: str
    state: State
    pays: Decimal | None = None
    pays_by_alone: Decimal | None = None
    alone_bill: Decimal | None = None
    windows_met: int = 0
    windows_set: int = 0
    missed: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cause: str = ""

    @property
    def called(self) -> str:
        """Return the name with the id, or the id alone where it stands for the name."""
        return self.client_id if self.name == self.client_id else f"{self.name} ({self.client_id})"


@dataclass(frozen=True)
class KitchenLine:
    """One kitchen: its costs, its proof, and how many of its clients have a plan."""

    kitchen_id: str
    name: str
    state: State
    planned: int
    clients: int
    groceries: Decimal | None = None
    visits: Decimal | None = None
    waste: Decimal | None = None
    all_counted: Decimal | None = None
    bound: Decimal | None = None
    gap: float | None = None
    status: str = ""
    seconds: float | None = None
    cause: str = ""

    @property
    def gap_percent(self) -> str:
        """Return the gap in percent, rounded up; empty without a plan."""
        if self.all_counted is None or self.bound is None:
            return ""
        return gap_text(self.all_counted, self.bound).removesuffix(" %")


@dataclass(frozen=True)
class BuyLine:
    """Packs of one kind that all kitchens together take from one seller on one day."""

    seller_id: str
    seller: str
    shop_date: date
    aisle: str
    food_id: str
    food: str
    pack_id: str
    pack: str
    count: float
    price: Decimal
    kitchens: int


@dataclass(frozen=True)
class KitchenPack:
    """Packs of one kind that one kitchen gets of what all take from one seller on one day."""

    kitchen_id: str
    kitchen: str
    seller_id: str
    seller: str
    shop_date: date
    aisle: str
    food_id: str
    food: str
    pack_id: str
    pack: str
    count: float
    price: Decimal


@dataclass(frozen=True)
class SellerLine:
    """What one seller takes from all kitchens together."""

    seller_id: str
    seller: str
    lines: int
    total: Decimal


@dataclass
class Overview:
    """All of a run. `bill` is what all planned kitchens pay for groceries and visits.

    `all_counted` adds their weighed waste, and no compliant weeks of theirs cost less than `bound`.
    """

    index: RunIndex
    clients: list[ClientLine] = field(default_factory=list)
    kitchens: list[KitchenLine] = field(default_factory=list)
    buy: list[BuyLine] = field(default_factory=list)
    packs: list[KitchenPack] = field(default_factory=list)
    sellers: list[SellerLine] = field(default_factory=list)
    savings: list[Saving] = field(default_factory=list)
    bill: Decimal = Decimal(0)

    @property
    def all_counted(self) -> Decimal:
        """Return the cost of all planned kitchens, all counted."""
        return sum((kitchen.all_counted or Decimal(0) for kitchen in self.kitchens), Decimal(0))

    @property
    def bound(self) -> Decimal:
        """Return the proven lower limit of `all_counted`."""
        return sum((kitchen.bound or Decimal(0) for kitchen in self.kitchens), Decimal(0))

    def headline(self) -> str:
        """Say what all planned weeks cost, all counted, and what is proven of that figure."""
        cost, currency = self.all_counted, self.index.currency
        if not cost:
            return "No week is planned yet."
        return (
            f"All counted, waste too: {money_code(cost, currency)}. No compliant weeks can cost "
            f"less than {money_code(self.bound, currency)}; at most {gap_text(cost, self.bound)} "
            "could be saved."
        )

    def count(self, state: State) -> int:
        """Return how many clients are in a state."""
        return sum(client.state == state for client in self.clients)


def gather_overview(root: Path, *, handles: bool = False) -> Overview:
    """Return the overview of a run's folder.

    A plan counts only while it matches the kitchen's file and the catalog. With `handles` clients
    and kitchens are named by their ids, whatever the folder calls them.

    Raises:
        BadInput: the folder is no run, or its catalog cannot be read.
    """
    folder = RunFolder(root)
    index = folder.read_index()
    hidden = _handles_of(index) if handles else None
    if hidden is not None:
        index = _index_with_handles(index, hidden)
    catalog_folder = Path(index.catalog_folder)
    catalog = load_catalog(catalog_folder)
    sha256 = catalog_sha256(catalog_folder)
    overview = Overview(index)
    purchases: list[Purchase] = []
    for kitchen in index.kitchens:
        found = None
        if kitchen.state == "planned":
            found = _plan_of(folder, kitchen.kitchen_id, sha256, alone=False)
        if found is None:
            overview.kitchens.append(_without_plan(kitchen))
            overview.clients += [_unplanned(kitchen, client) for client in kitchen.clients]
            continue
        plan, scenario = found
        if hidden is not None:
            plan = plan_with_handles(plan, hidden)
            scenario = scenario_with_handles(scenario, hidden)
        alone = {
            client_id: pair[0]
            for client_id in kitchen.alone
            if (pair := _plan_of(folder, f"{kitchen.kitchen_id}.{client_id}", sha256, alone=True))
        }
        overview.kitchens.append(_kitchen_line(kitchen, plan))
        overview.clients += _client_lines(kitchen, plan, guarded(catalog, scenario), alone)
        overview.bill += plan.solution.grocery_cost + plan.solution.visit_cost
        if alone:
            names = {client.client_id: client.name for client in kitchen.clients}
            overview.savings.append(
                saving_of(kitchen.kitchen_id, kitchen.name, plan, alone, names)
            )  # fmt: skip
        overview.packs += _kitchen_packs(kitchen, plan, catalog)
        purchases += plan.purchases
    overview.buy = _buy_lines(purchases, catalog)
    overview.sellers = list(_seller_lines(overview.buy))
    return overview


def _handles_of(index: RunIndex) -> Handles:
    people = [(one.name, one.client_id) for home in index.kitchens for one in home.clients]
    homes = [
        (home.name, home.kitchen_id)
        for home in index.kitchens
        if home.name not in {name for name, _ in people}
    ]
    return Handles.of([*people, *homes])


def _index_with_handles(index: RunIndex, names: Handles) -> RunIndex:
    """Return the index of a run with ids for names, in what it tells of causes too."""

    def client(one: ClientState) -> ClientState:
        return one.model_copy(update={"name": one.client_id, "cause": names.hide(one.cause)})

    def kitchen(one: KitchenState) -> KitchenState:
        return one.model_copy(
            update={
                "name": one.kitchen_id,
                "cause": names.hide(one.cause),
                "clients": tuple(map(client, one.clients)),
            }
        )

    kitchens = tuple(map(kitchen, index.kitchens))
    return index.model_copy(update={"name": names.hide(index.name), "kitchens": kitchens})


def _plan_of(
    folder: RunFolder, key: str, catalog: str, alone: bool
) -> tuple[Plan, Scenario] | None:
    path = folder.kitchen_file(key)
    try:
        plan = read_plan(folder.plan_folder(key, alone))
        scenario = load_scenario(path)
    except BadInput:
        return None
    same = (plan.scenario_sha256, plan.catalog_sha256) == (scenario_sha256(path), catalog)
    return (plan, scenario) if same else None


def _without_plan(kitchen: KitchenState) -> KitchenLine:
    lost = kitchen.state == "planned"
    return KitchenLine(
        kitchen_id=kitchen.kitchen_id,
        name=kitchen.name,
        state="waiting" if lost else kitchen.state,
        planned=0,
        clients=len(kitchen.clients),
        cause=_LOST if lost else kitchen.cause,
    )


_LOST = "its plan is gone or was made from other files; run `planopt weeks` again"


def _unplanned(kitchen: KitchenState, client: ClientState) -> ClientLine:
    lost = client.state == "planned"
    return ClientLine(
        kitchen_id=kitchen.kitchen_id,
        client_id=client.client_id,
        name=client.name,
        state="waiting" if lost else client.state,
        cause=_LOST if lost else client.cause,
    )


def _kitchen_line(kitchen: KitchenState, plan: Plan) -> KitchenLine:
    solution = plan.solution
    return KitchenLine(
        kitchen_id=kitchen.kitchen_id,
        name=kitchen.name,
        state="planned",
        planned=sum(client.state == "planned" for client in kitchen.clients),
        clients=len(kitchen.clients),
        groceries=solution.grocery_cost,
        visits=solution.visit_cost,
        waste=solution.waste_cost,
        all_counted=solution.objective,
        bound=solution.best_bound,
        gap=solution.proven_gap,
        status=solution.status,
        seconds=solution.solve_seconds,
    )


def _client_lines(
    kitchen: KitchenState, plan: Plan, scenario: Scenario, alone: dict[str, Plan]
) -> Iterator[ClientLine]:
    planned = {client.client_id: client for client in scenario.clients}
    ids = sorted(planned)
    pays = {share.client_id: share.total_minor for share in split_bill(plan, ids)}
    by_alone: dict[str, int] = {}
    if set(alone) == set(ids):
        weights = [Fraction(to_minor(_bill(alone[i]), plan.currency)) for i in ids]
        by_alone = dict(zip(ids, by_weights(sum(pays.values()), weights), strict=True))
    special = [caution for caution in plan.cautions if caution not in STANDING]
    for state in kitchen.clients:
        client = planned.get(state.client_id)
        if client is None:
            yield _unplanned(kitchen, state)
            continue
        met, count, missed = _windows(plan, scenario, client)
        others = {other.name for other in scenario.clients} - {client.name}
        yield ClientLine(
            kitchen_id=kitchen.kitchen_id,
            client_id=client.client_id,
            name=client.name,
            state="planned",
            pays=from_minor(pays[client.client_id], plan.currency),
            pays_by_alone=(
                from_minor(by_alone[client.client_id], plan.currency) if by_alone else None
            ),
            alone_bill=_bill(alone[client.client_id]) if client.client_id in alone else None,
            windows_met=met,
            windows_set=count,
            missed=tuple(missed),
            warnings=tuple(
                text for text in special if not any(text.startswith(f"{n}: ") for n in others)
            ),
        )


def _bill(plan: Plan) -> Decimal:
    return plan.solution.grocery_cost + plan.solution.visit_cost


def _windows(plan: Plan, scenario: Scenario, client: Client) -> tuple[int, int, list[str]]:
    """Return windows met, windows set, and words on those missed."""
    by_day: dict[int, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    whole: dict[str, float] = defaultdict(float)
    for portion in plan.portions:
        if portion.client_id == client.client_id:
            for nutrient_id, amount in portion.nutrients.items():
                by_day[portion.day][nutrient_id] += amount
                whole[nutrient_id] += amount
    tests = [
        (f"{nutrient_id} on {scenario.date_of(day)}", by_day[day][nutrient_id], window)
        for day in range(1, scenario.days + 1)
        if scenario.meals_of(client, day)
        for nutrient_id, window in written_windows(scenario, client, day).items()
    ]
    tests += [
        (f"{nutrient_id} over the plan", whole[nutrient_id], window_bounds(window))
        for nutrient_id, window in client.windows_per_week.items()
    ]
    missed = []
    for words, amount, (low, high) in tests:
        if not meets(amount, low, high):
            missed.append(words)
    return len(tests) - len(missed), len(tests), missed


def _kitchen_packs(kitchen: KitchenState, plan: Plan, catalog: Catalog) -> list[KitchenPack]:
    lines = []
    for bought in plan.purchases:
        food = catalog.foods.get(bought.food_id)
        lines.append(
            KitchenPack(
                kitchen_id=kitchen.kitchen_id,
                kitchen=kitchen.name,
                seller_id=bought.seller_id,
                seller=seller_name(catalog, bought.seller_id),
                shop_date=bought.shop_date,
                aisle=plain(food.aisle) if food else "",
                food_id=bought.food_id,
                food=bought.food_name,
                pack_id=bought.pack_id,
                pack=pack_text(bought),
                count=bought.count,
                price=bought.price,
            )
        )
    return sorted(lines, key=lambda p: (p.shop_date, p.seller, p.aisle, p.food, p.pack_id))


def _buy_lines(bought: list[Purchase], catalog: Catalog) -> list[BuyLine]:
    together: dict[tuple[str, date, str], list[Purchase]] = defaultdict(list)
    for one in bought:
        together[one.seller_id, one.shop_date, one.pack_id].append(one)
    lines = []
    for (seller_id, day, pack_id), purchases in together.items():
        first = purchases[0]
        # Counts are decimal numbers with few digits; summed as such they stay so.
        count = sum((exact(p.count) for p in purchases), Fraction(0))
        food = catalog.foods.get(first.food_id)
        lines.append(
            BuyLine(
                seller_id=seller_id,
                seller=seller_name(catalog, seller_id),
                shop_date=day,
                aisle=plain(food.aisle) if food else "",
                food_id=first.food_id,
                food=first.food_name,
                pack_id=pack_id,
                pack=pack_text(first.model_copy(update={"count": float(count)})),
                count=float(count),
                price=sum((p.price for p in purchases), Decimal(0)),
                kitchens=len(purchases),
            )
        )
    return sorted(lines, key=lambda b: (b.seller, b.shop_date, b.aisle, b.food, b.pack_id))


def _seller_lines(buy: list[BuyLine]) -> Iterator[SellerLine]:
    for seller_id, seller in sorted({(b.seller_id, b.seller) for b in buy}, key=lambda s: s[1]):
        mine = [line for line in buy if line.seller_id == seller_id]
        total = sum((line.price for line in mine), Decimal(0))
        yield SellerLine(seller_id, seller, len(mine), total)
