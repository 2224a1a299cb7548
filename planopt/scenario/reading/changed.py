"""A kitchen with another scenario, or with a variant's changes; its hashes tell what it holds."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from planopt.scenario.reading.load import Kitchen
from planopt.scenario.records import Scenario, Variant
from planopt.scenario.variants.apply import apply_variant


def changed_kitchen(kitchen: Kitchen, variant: Variant) -> Kitchen:
    """Return the kitchen with a variant's changes made; it remembers them."""
    catalog, scenario = apply_variant(kitchen.catalog, kitchen.scenario, variant)
    return replace(with_scenario(replace(kitchen, catalog=catalog), scenario), changes=variant)


def with_scenario(kitchen: Kitchen, scenario: Scenario) -> Kitchen:
    """Return the kitchen with another scenario."""

    def digest(text: str) -> str:
        return hashlib.sha256(text.encode()).hexdigest()

    return replace(
        kitchen,
        scenario=scenario,
        scenario_sha256=digest(scenario.model_dump_json(by_alias=True)),
        catalog_sha256=digest(kitchen.catalog_sha256 + kitchen.catalog.model_dump_json()),
    )
