"""Energy at rest and through a day: published equations with their sources and errors.

Figures marked "from memory" were not read again in the publication when this was written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from planopt.faults import BadOption
from planopt.targets.person import Person


@dataclass(frozen=True)
class Equation:
    """A published equation for the energy a body uses at rest, in kcal a day."""

    key: str
    name: str
    source: str
    formula: str
    error: str
    needs_lean_mass: bool
    kcal: Callable[[Person], float]

    def fits(self, person: Person) -> bool:
        """Tell whether all that the equation asks for is known."""
        return person.lean_kg is not None or not self.needs_lean_mass


def _mifflin(person: Person) -> float:
    base = 10 * person.weight_kg + 6.25 * person.height_cm - 5 * person.age_years
    return base + (5 if person.sex == "male" else -161)


def _lean(person: Person) -> float:
    lean_kg = person.lean_kg
    assert lean_kg is not None
    return lean_kg


MIFFLIN_AGES = (19, 78)

EQUATIONS: dict[str, Equation] = {
    one.key: one
    for one in (
        Equation(
            key="mifflin",
            name="Mifflin-St Jeor 1990",
            source="Mifflin et al. 1990, Am J Clin Nutr 51:241-247",
            formula="10 kg + 6.25 cm - 5 years, + 5 for men, - 161 for women",
            error="it explains 71 % of the differences between people; in a review about 82 of "
            "100 adults who are not obese, and 70 of 100 who are, were within 10 % of it, single "
            "ones as far as 20 % off (Frankenfield et al. 2005, J Am Diet Assoc 105:775-789, from "
            "memory)",
            needs_lean_mass=False,
            kcal=_mifflin,
        ),
        Equation(
            key="cunningham",
            name="Cunningham 1980",
            source="Cunningham 1980, Am J Clin Nutr 33:2372-2374",
            formula="500 + 22 kg of lean mass",
            error="it was fitted to estimated, not measured, lean mass of 223 people without "
            "athletes, and explains about 70 % of the differences between them (the share from "
            "memory); an error of the body-fat figure comes on top",
            needs_lean_mass=True,
            kcal=lambda person: 500 + 22 * _lean(person),
        ),
        Equation(
            key="cunningham1991",
            name="Cunningham 1991",
            source="Cunningham 1991, Am J Clin Nutr 54:963-969 (attribution from memory)",
            formula="370 + 21.6 kg of fat-free mass",
            error="it gathers several studies, and explains 65 to 90 % of the differences between "
            "people (from memory); an error of the body-fat figure comes on top",
            needs_lean_mass=True,
            kcal=lambda person: 370 + 21.6 * _lean(person),
        ),
    )
}

# FAO/WHO/UNU, Human energy requirements (2001 consultation), Table 5.3: multiples of the energy at
# rest. The middles are ours, but for 1.85, which section 5.4 names. They are of groups of people.
ACTIVITIES: dict[str, tuple[float, float, float]] = {
    "light": (1.40, 1.55, 1.69),
    "moderate": (1.70, 1.85, 1.99),
    "vigorous": (2.00, 2.20, 2.40),
}
ACTIVITY_SOURCE = "FAO/WHO/UNU 2001, Table 5.3 (levels of groups, not of single people)"
_LEVELS = (1.2, 2.5)


def equation_for(person: Person, wanted: str | None) -> Equation:
    """Return the equation asked for; by default Mifflin-St Jeor, Cunningham with known body fat.

    Raises:
        BadOption: there is no such equation, or it needs body fat.
    """
    key = wanted or ("mifflin" if person.lean_kg is None else "cunningham")
    equation = EQUATIONS.get(key)
    if equation is None:
        raise BadOption(f"--equation {key}: not one of {', '.join(EQUATIONS)}")
    if not equation.fits(person):
        raise BadOption(f"--equation {key}: it needs the lean mass; give --body-fat")
    return equation


def activity_of(text: str) -> tuple[float, float, float]:
    """Return least, usual and most activity level of a word; a number is all three.

    Raises:
        BadOption: it is neither a known word nor a level that people live at.
    """
    if text in ACTIVITIES:
        return ACTIVITIES[text]
    try:
        level = float(text)
    except ValueError:
        words = ", ".join(ACTIVITIES)
        raise BadOption(f"--activity {text}: write {words}, or a level such as 1.6") from None
    if not _LEVELS[0] <= level <= _LEVELS[1]:
        raise BadOption(f"--activity {text}: a level is from {_LEVELS[0]:g} to {_LEVELS[1]:g}")
    return level, level, level
