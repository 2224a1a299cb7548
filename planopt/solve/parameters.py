"""The parameters of the search: shares of time, seconds, and counts where work is the limit.

Every way to search has its own group; `PARAMETERS` is what all of them read. `_s` are seconds,
`_share` parts of the time that is left, and `_by_work` counts that end a part with a work limit.
All were chosen by trial on the kitchens of the benchmarks (tests/benchmarks/FIGURES.md).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ChoosingParameters:
    """Which way a problem is searched, and the recipe book narrowed for it.

    `few_options` in all meals are handed to HiGHS at once. What is being built is given up
    `grace_s` after the limit. Of a large book at most `most_a_meal` dishes are kept, fewer by
    `step` until day menus can be listed, but `least_a_meal`. `grid_sizes` are the portion sizes
    tried where any amount may be served.
    """

    few_options: int = 400
    grace_s: float = 0.5
    most_a_meal: int = 60
    least_a_meal: int = 8
    step: float = 0.75
    grid_sizes: tuple[int, ...] = (3, 6, 12)


@dataclass(frozen=True)
class DayParameters:
    """The search day by day (`bydays.py`).

    HiGHS has a first look of `look_s` or `look_share`. Relaxations are nearly as good as the model
    itself and sooner solved: they get `relaxed_shares` of the proof, and the model the rest. A
    first week by walks takes turns of `turn_s` or `turn_share`. Where an order of meals is asked
    for, all cores anneal for `together_share` at first.
    """

    look_s: float = 2.0
    look_share: float = 0.15
    first_anneal_s: float = 0.5
    together_share: float = 0.25
    relaxed_shares: tuple[float, ...] = (0.1, 0.2, 0.2, 0.4)
    menu_share: float = 0.6
    anneal_share: float = 0.4
    first_share: float = 0.55
    polish_share: float = 0.5
    any_share: float = 0.6
    turn_share: float = 0.5
    turn_s: float = 4.5
    turns_by_work: int = 2


@dataclass(frozen=True)
class MenuParameters:
    """The search over day menus (`bymenus.py`, `turns.py`).

    All cores anneal for `together_share` at first: a good week makes each later second of the proof
    worth more. With one core `worker_share` is kept for the bound. `starts` walks from nothing get
    `start_share` each. Of the turns after a first week every `walk_every`-th is a round; where
    rounds bring nothing, fewer are, down to every `rarely`-th. `rounds` are the kinds of them in
    turn, by their place in `ROUND_NEIGHBOURHOODS`.
    """

    rounds_by_work: int = 6
    round_s: float = 4.5
    worker_share: float = 0.35
    starts: int = 2
    start_share: float = 0.04
    any_share: float = 0.6
    walk_share: float = 0.15
    anneal_share: float = 0.6
    first_anneal_s: float = 1.0
    together_share: float = 0.25
    batch_share: float = 0.4
    shared_batch_share: float = 0.15
    walk_every: int = 2
    rarely: int = 8
    rounds: tuple[int, ...] = (2, 2, 0, 2, 2, 1)


@dataclass(frozen=True)
class RoundParameters:
    """One round: a restricted master over some cookings (`neighbourhoods.py`).

    A guide of the relaxation gets `guide_extras` more cookings. Columns are generated in
    `generations` at most; `most_columns` go into the whole-number master. Sizes of a kind begin
    with `sizes` and grow with rounds that end, between `least_size` and `most_size`.
    """

    guide_extras: int = 10
    generations: int = 14
    most_columns: int = 400
    sizes: tuple[float, ...] = (1.0, 1.0, 0.6)
    grow: float = 1.3
    shrink: float = 0.75
    least_size: float = 0.2
    most_size: float = 4.0


@dataclass(frozen=True)
class WalkParameters:
    """Walks by whole days (`walks.py`): moves by work, and tries at a first week."""

    moves_by_work: int = 200
    first_tries: int = 8
    first_moves: int = 15
    first_share: float = 0.25


@dataclass(frozen=True)
class DestroyParameters:
    """The large neighbourhood search of days (`destroyrepair.py`).

    A neighbourhood is drawn by chance: the first whose `upto` is above it. `avoid` is money for a
    cooking that was just taken out, `heat` the share of the cost by which a dearer week may be
    taken at first, `mending` the weight of cookings beyond a limit. A day is put back as the best
    of `tried` menus, made of `promising` dishes a meal and `by_chance` others. `hopes` are the
    parts of a batch that a new dish may leave to later servings. A neighbourhood that opens more
    than `most_opened` days, or half of them, is passed over.
    """

    upto: tuple[float, ...] = (0.15, 0.35, 0.75, 0.9, 1.0)
    some_days: tuple[int, ...] = (1, 2, 2, 3, 4)
    client_days: tuple[int, ...] = (2, 3, 4)
    most_opened: int = 6
    avoid: float = 200.0
    heat: float = 0.04
    mending: float = 50.0
    tried: int = 12
    promising: int = 4
    by_chance: int = 1
    hopes: tuple[float, ...] = (0.0, 0.0, 0.5, 1.0)


@dataclass(frozen=True)
class BatchParameters:
    """Turns over batches (`tabuturns.py`).

    The walk goes in slices; after each the best set of cookings met is made into a week. A set
    below `far_below` of the best cost is looked at by a round too, if `least_round_s` are left.
    """

    slice_s: float = 0.5
    slice_moves: int = 60
    slices_by_work: int = 4
    week_s: float = 0.8
    week_moves: int = 100
    far_below: float = 0.97
    round_s: float = 3.0
    least_round_s: float = 1.0


@dataclass(frozen=True)
class AnnealParameters:
    """Annealing where work is the limit (`annealturns.py`): moves of an anneal, and anneals."""

    moves_by_work: int = 60_000
    jobs_by_work: int = 8


@dataclass(frozen=True)
class OutlineParameters:
    """The search where recipes have very many versions (`byoutline.py`).

    Of the proof, the weekly relaxation gets `weekly_share`; writing the proofs may take
    `build_share`. At most `most_added` versions come in at once; nothing is begun with less than
    `least_s` left.
    """

    first_share: float = 0.5
    next_share: float = 0.6
    proof_share: float = 0.5
    weekly_share: float = 0.5
    wait_s: float = 0.1
    build_share: float = 0.4
    least_s: float = 0.5
    cuts_by_work: int = 2
    most_added: int = 60


@dataclass(frozen=True)
class AdjustParameters:
    """The search around an earlier plan (`adjusting.py`).

    Anneals make `moves_a_plate`, at most `moves`, until `patience` of them in a row find nothing
    better. `ring_shares` are shares of the time that is left, ring by ring.
    """

    anneal_share: float = 0.6
    turns_by_work: int = 6
    moves: int = 250_000
    moves_a_plate: int = 4000
    patience: int = 12
    ring_shares: tuple[float, ...] = (0.3, 0.4, 0.5, 0.6, 1.0)


@dataclass(frozen=True)
class SearchParameters:
    """All parameters of the search, by the way or method that they belong to."""

    choosing: ChoosingParameters = ChoosingParameters()
    days: DayParameters = DayParameters()
    menus: MenuParameters = MenuParameters()
    rounds: RoundParameters = RoundParameters()
    walks: WalkParameters = WalkParameters()
    destroy: DestroyParameters = DestroyParameters()
    batches: BatchParameters = BatchParameters()
    anneal: AnnealParameters = AnnealParameters()
    outline: OutlineParameters = OutlineParameters()
    adjust: AdjustParameters = AdjustParameters()


PARAMETERS = SearchParameters()
