"""The work surface of a cook day while stretches are placed: what was left, and clean-downs.

Whatever leaves something and whatever must be kept from it never go on at the same time, and
between the first and the second lies a clean-down that begins after the first has ended.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import product

from planopt.cookday.contact import Contact

Key = tuple[int, str]  # dish, kind


class Rules:
    """Which hands-on stretches and which dishes in an oven must be kept from which."""

    def __init__(self, contacts: Sequence[Contact]) -> None:
        keys = list(product(range(len(contacts)), ("prepare", "portion")))
        self.dirties: dict[Key, list[Key]] = {key: [] for key in keys}
        self.spoils: dict[Key, list[Key]] = {key: [] for key in keys}
        for first, then in product(keys, keys):
            left = contacts[first[0]].leaves(first[1])
            if first != then and left & contacts[then[0]].keeps_from(then[1]):
                self.dirties[then].append(first)
                self.spoils[first].append(then)
        self.not_beside = [
            {
                other
                for other, there in enumerate(contacts)
                if one.leaves("oven") & there.keeps_from("oven")
                or there.leaves("oven") & one.keeps_from("oven")
            }
            for one in contacts
        ]

    @property
    def any(self) -> bool:
        """Tell whether any work must be kept from other work."""
        return any(self.dirties.values()) or any(self.not_beside)

    def danger(self, dish: int) -> int:
        """Return how many stretches a dish spoils, less those that spoil it."""
        kinds = ("prepare", "portion")
        others = [
            (1, [key for kind in kinds for key in self.spoils[dish, kind]]),
            (-1, [key for kind in kinds for key in self.dirties[dish, kind]]),
        ]
        return sum(sign for sign, keys in others for key in keys if key[0] != dish)


def _span(low: int, high: int) -> int:
    return ((1 << (high - low)) - 1) << low if high > low else 0


class Surface:
    """Where hands-on stretches stand so far, and the starts of the clean-downs between them."""

    def __init__(self, rules: Rules, clean_minutes: int) -> None:
        self.rules = rules
        self.clean = clean_minutes
        self.at: dict[Key, tuple[int, int]] = {}
        self.cleans: list[int] = []

    def starts(self, key: Key, minutes: int, free: int, free_after_clean: int) -> tuple[int, int]:
        """Return the starts that are sound as things are, and those sound after a clean-down.

        `free` are the starts with hands free, as bits; the others have them free for a clean-down
        as well.
        """
        clean, cleans = self.clean, self.cleans
        for other in self.rules.dirties[key]:
            if other in self.at:
                start, end = self.at[other]
                low = max(0, start - minutes + 1)
                next_clean = bisect_left(cleans, end)
                if next_clean < len(cleans):
                    sound_from = cleans[next_clean] + clean
                    free &= ~_span(low, sound_from)
                else:
                    sound_from = end + clean
                    free &= (1 << low) - 1
                free_after_clean &= ~_span(low, min(sound_from, end + clean))
        for other in self.rules.spoils[key]:
            if other in self.at:
                start, end = self.at[other]
                # Before it only if somebody cleans between the two anyway.
                last_clean = bisect_right(cleans, start - clean) - 1
                low = max(0, cleans[last_clean] - minutes + 1) if last_clean >= 0 else 0
                barred = ~_span(low, end)
                free &= barred
                free_after_clean &= barred
        return free, free_after_clean
