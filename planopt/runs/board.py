"""The board of a run: each kitchen with its clients, and who has a plan or a reason for none."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from planopt import __version__
from planopt.faults import ExitCode
from planopt.runs.jobs import Failure, RunJob
from planopt.runs.records import ClientState, KitchenState, RunIndex, State
from planopt.scenario.households.parties import KitchenPart, Kitchens
from planopt.scenario.kitchens import Member


@dataclass
class Table:
    """One kitchen on the board. `job` is None while it has nothing to plan.

    `failed` holds reasons by client, `failure` the kitchen's own.
    """

    part: KitchenPart
    full_sha256: str = ""
    job: RunJob | None = None
    failed: dict[Member, Failure] = field(default_factory=dict)
    failure: Failure | None = None
    bill: Decimal | None = None
    alone: dict[str, bool] = field(default_factory=dict)

    @property
    def state(self) -> State:
        """Return the state of the kitchen."""
        if self.bill is not None:
            return "planned"
        return "failed" if self.failure is not None else "waiting"

    def client_state(self, member: Member) -> ClientState:
        """Return the state of one of its clients."""
        failure = self.failed.get(member) or self.failure
        if failure is None:
            return ClientState(client_id=member.client_id, name=member.name, state=self.state)
        return ClientState(
            client_id=member.client_id,
            name=member.name,
            state="failed",
            cause=failure.text,
            exit_code=failure.exit_code,
        )

    def record(self) -> KitchenState:
        """Return the kitchen as the index tells it."""
        return KitchenState(
            kitchen_id=self.part.kitchen_id,
            name=self.part.name,
            state=self.state,
            cause="" if self.failure is None else self.failure.text,
            exit_code=0 if self.failure is None else self.failure.exit_code,
            clients=tuple(self.client_state(member) for member in self.part.members),
            alone=tuple(sorted(client for client, planned in self.alone.items() if planned)),
        )


def new_table(part: KitchenPart) -> Table:
    """Return a kitchen with what its data already rules out."""
    table = Table(part)
    for out in part.left_out:
        text = "\n".join(fault.text() for fault in out.faults)
        table.failed[out.member] = Failure("bad_input", int(ExitCode.BAD_INPUT), text)
    if part.faults:
        text = "\n".join(fault.text() for fault in part.faults)
        table.failure = Failure("bad_input", int(ExitCode.BAD_INPUT), text)
    elif part.scenario is None:
        nobody_left(table)
    return table


def nobody_left(table: Table) -> None:
    """Let a kitchen fail whose clients all fail; its code is theirs when they agree."""
    codes = {failure.exit_code for failure in table.failed.values()}
    code = codes.pop() if len(codes) == 1 else int(ExitCode.SOME_FAILED)
    table.failure = Failure("bad_input", code, "none of its clients can be planned")


def index_of(kitchens: Kitchens, tables: list[Table]) -> RunIndex:
    """Return the index of a run."""
    common = kitchens.common
    return RunIndex(
        planopt_version=__version__,
        name=common.name,
        scenario_file=kitchens.scenario_path.as_posix(),
        catalog_folder=kitchens.catalog_folder.as_posix(),
        catalog_sha256=kitchens.catalog_sha256,
        currency=common.currency,
        start_date=common.start_date,
        days=common.days,
        kitchens=tuple(table.record() for table in tables),
    )
