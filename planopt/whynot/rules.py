"""Rules: the limits of a scenario as the user wrote them; a window of every day is one rule."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass, replace

from planopt.problem.limits import WHOLE_PLAN, Limit, LimitKey, limits_of
from planopt.scenario.records import Client, Scenario


@dataclass(frozen=True)
class Rule:
    """One limit as written, with the single limits it stands for.

    `key.day` is a day for a window written for that day, and `WHOLE_PLAN` else; `daily` tells a
    window of every day from one of the whole plan. `value` is as written; on days with meals away
    a limit may be a share of it. That of a meal's window is the amount on its first day.
    """

    key: LimitKey
    value: float
    daily: bool
    limits: tuple[Limit, ...]

    @property
    def days(self) -> tuple[int, ...]:
        """Return the days on which it is a limit; none for limits of the whole plan."""
        return tuple(limit.key.day for limit in self.limits if limit.key.day != WHOLE_PLAN)

    @property
    def relaxable(self) -> bool:
        """Tell whether it may be offered as something to give."""
        return all(limit.relaxable for limit in self.limits)

    def on_days(self, days: Iterable[int]) -> Rule:
        """Return the rule on some of its days only."""
        chosen = set(days)
        return replace(
            self, limits=tuple(limit for limit in self.limits if limit.key.day in chosen)
        )


def rules_of(scenario: Scenario) -> tuple[Rule, ...]:
    """Return the rules of a scenario; together they hold each of its limits once."""
    clients = {client.client_id: client for client in scenario.clients}
    rows: dict[tuple[LimitKey, bool], list[Limit]] = {}
    for limit in limits_of(scenario):
        key = limit.key
        daily = key.kind in ("window", "meal_window") and key.day != WHOLE_PLAN
        if daily and key.what not in _of_that_day(clients[key.client], key):
            rows.setdefault((replace(key, day=WHOLE_PLAN), True), []).append(limit)
        else:
            rows.setdefault((key, False), []).append(limit)
    return tuple(
        Rule(key, _written(clients, limits, key, daily), daily, tuple(limits))
        for (key, daily), limits in rows.items()
    )


def _of_that_day(client: Client, key: LimitKey) -> Container[str]:
    """Return what has a window for that very day, of the day or of the meal."""
    if key.kind == "window":
        return {**client.pattern_windows(key.day), **client.windows_on_days.get(key.day, {})}
    return client.windows_per_meal_on_days.get(key.day, {}).get(key.meal, {})


def _written(clients: dict[str, Client], limits: list[Limit], key: LimitKey, daily: bool) -> float:
    if not daily or key.kind == "meal_window":
        return limits[0].value
    window = clients[key.client].windows_per_day[key.what]
    value = window.min if key.side == "min" else window.max
    return limits[0].value if value is None else value


def limits_in(rules: Iterable[Rule]) -> frozenset[Limit]:
    """Return all limits of some rules."""
    return frozenset(limit for rule in rules for limit in rule.limits)
