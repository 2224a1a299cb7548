"""Records of a run's folder: the index, and failures that need not be found out twice."""

from __future__ import annotations

from datetime import date as Date
from typing import Literal

from pydantic import Field

from planopt.catalog.records import Record

State = Literal["planned", "failed", "waiting"]


class ClientState(Record):
    """One client of a run; `cause` says why there is no plan."""

    client_id: str
    name: str
    state: State
    cause: str = ""
    exit_code: int = 0


class KitchenState(Record):
    """One kitchen of a run. It is `planned` when at least one of its clients is."""

    kitchen_id: str
    name: str
    state: State
    cause: str = ""
    exit_code: int = 0
    clients: tuple[ClientState, ...]
    alone: tuple[str, ...] = Field(
        default=(), description="clients planned alone too, to compare sharing with"
    )


class RunIndex(Record):
    """What a run knows about its kitchens; the plans themselves are in their folders."""

    index_version: Literal[1] = 1
    planopt_version: str
    name: str
    scenario_file: str
    catalog_folder: str
    catalog_sha256: str
    currency: str
    start_date: Date
    days: int
    kitchens: tuple[KitchenState, ...]


class ProvenFailure(Record):
    """Clients of a kitchen for whom no compliant week exists, with the reasons.

    Holds for one text of the kitchen, one catalog and one version of planopt.
    """

    kitchen_id: str
    scenario_sha256: str
    catalog_sha256: str
    planopt_version: str
    reasons: dict[str, str] = Field(description="client -> reason; empty key = the whole kitchen")
