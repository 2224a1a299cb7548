"""Kitchens: which clients cook and shop together, and the scenario of each such kitchen.

`kitchen_scenario` is a pure function: equal input gives an equal scenario, so that its text can
stand for the kitchen when a run is taken up again.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath

import yaml

from planopt.scenario.byhand import ByHand
from planopt.scenario.records import Client, Household, Scenario
from planopt.scenario.samedish import kept_for

SHARED = "shared"
_OWN_FIELDS = ("cook_days", "shop_days", "sellers", "visit_cost", "budget", "recipes", "stock")
MADE_BY = "# Made by `planopt weeks`"


@dataclass(frozen=True)
class Member:
    """A client of a kitchen as reports name them."""

    client_id: str
    name: str


@dataclass
class Group:
    """Positions of the entries that eat from one kitchen, in the order of the file."""

    kitchen_id: str
    places: list[int] = field(default_factory=list)


def several_kitchens(data: object) -> bool:
    """Tell whether the data of a scenario file speaks of kitchens, so that one plan cannot do."""
    if not isinstance(data, dict):
        return False
    clients = data.get("clients")
    return (
        "roster" in data
        or "households" in data
        or "stock_folder" in data
        or data.get("kitchen", SHARED) != SHARED
        or (
            isinstance(clients, list)
            and any(isinstance(client, dict) and client.get("household") for client in clients)
        )
    )


def grouped(households: Sequence[str], keys: Sequence[str], separate: bool) -> list[Group]:
    """Return the kitchens in id order, from each entry's household and key."""
    groups: dict[str, Group] = {}
    for place, (household, key) in enumerate(zip(households, keys, strict=True)):
        kitchen_id = household or (key if separate else SHARED)
        groups.setdefault(kitchen_id, Group(kitchen_id)).places.append(place)
    return [groups[kitchen_id] for kitchen_id in sorted(groups)]


def kitchen_scenario(
    common: Scenario, household: Household | None, name: str, clients: Sequence[Client]
) -> Scenario:
    """Return the scenario of one kitchen.

    What the common scenario says holds for every kitchen, unless its household says otherwise. The
    stock of stock files, its own or of all, stands in `stock` already, so that it names no file.
    Variants are left out: they are no part of the plan, and may name clients of other kitchens.
    """
    own: Mapping[str, object] = {}
    if household is not None:
        own = {
            key: value
            for key in _OWN_FIELDS
            if (value := getattr(household, key)) is not None
        }  # fmt: skip
    made = common.model_copy(
        update={
            "name": f"{common.name}: {name}",
            "stock_files": (),
            "stock_folder": None,
            "variants": (),
            "kitchen": SHARED,
            "households": (),
            "roster": None,
            "by_hand": ByHand(),
            "same_dish": kept_for(common.same_dish, [client.client_id for client in clients]),
            "clients": tuple(client.model_copy(update={"household": None}) for client in clients),
            **own,
        }
    )
    in_order = tuple(sorted(made.cook_days, key=lambda cook: cook.day))
    return made.model_copy(update={"cook_days": in_order})


def alone_scenario(scenario: Scenario, client_id: str) -> Scenario:
    """Return the kitchen of one client alone, to compare sharing with.

    The stock is divided equally, so that both sides start with the same food; the budget, which is
    that of all clients together, is left out.
    """
    count = len(scenario.clients)
    client = next(c for c in scenario.clients if c.client_id == client_id)
    stock = tuple(
        entry.model_copy(update={"amount": round(entry.amount / count, 3)})
        for entry in scenario.stock
        if round(entry.amount / count, 3) > 0
    )
    return scenario.model_copy(
        update={
            "name": f"{scenario.name}: {client.name} alone",
            "budget": None,
            "stock": stock,
            "by_hand": ByHand(),
            "same_dish": kept_for(scenario.same_dish, (client_id,)),
            "clients": (client,),
        }
    )


def scenario_text(scenario: Scenario, catalog: str, source: str) -> str:
    """Return a scenario as the text of a YAML file that reads back as the same scenario."""
    data = scenario.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    data = {"name": data.pop("name"), **data, "catalog": catalog}
    one_line = "".join(char if char.isprintable() else "?" for char in source)
    head = f"{MADE_BY} from {one_line}; change it there, not here.\n"
    text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)
    if "\x85" in text:
        # PyYAML writes this line break as it is and reads it back as a space.
        text = yaml.safe_dump(data, sort_keys=False, width=100)
    return head + text


def path_from(folder: FilePath, target: FilePath) -> str:
    """Return a path as written in a file of a folder; whole where the two share no root."""
    try:
        return FilePath(os.path.relpath(target.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return target.resolve().as_posix()
