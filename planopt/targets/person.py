"""What is known of a person, and what is asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from planopt.faults import BadOption
from planopt.targets.spans import Span

Sex = Literal["female", "male"]
Goal = Literal["keep", "lose", "gain"]
GOALS: tuple[Goal, ...] = ("keep", "lose", "gain")

# Groups that are for licensed care first; the words are those that cautions use.
CARE_GROUPS: dict[str, str] = {
    "pregnancy": "pregnancy",
    "breastfeeding": "breastfeeding",
    "kidney_disease": "kidney disease",
    "liver_disease": "liver disease",
    "diabetes_drugs": "diabetes on insulin or insulin-releasing drugs",
    "eating_disorder": "a current or past eating disorder",
    "bariatric_surgery": "bariatric surgery",
    "cancer_treatment": "cancer treatment",
    "frailty": "frailty",
}
# Slips of a unit, not of a diet: a height in metres, a weight in pounds of a giant.
_RANGES = {
    "--age": (0.0, 120.0, "years"),
    "--height": (100.0, 250.0, "cm"),
    "--weight": (25.0, 350.0, "kg"),
    "--body-fat": (2.0, 70.0, "%"),
}
UNDER_AGE = 18
LEAN_BMI = 18.5


@dataclass(frozen=True)
class Person:
    """Measures of one person. `body_fat_percent` is None where nobody measured it."""

    sex: Sex
    age_years: int
    height_cm: float
    weight_kg: float
    body_fat_percent: float | None = None
    care: tuple[str, ...] = ()

    @property
    def lean_kg(self) -> float | None:
        """Return the mass without fat, None where body fat is not known."""
        if self.body_fat_percent is None:
            return None
        return self.weight_kg * (1 - self.body_fat_percent / 100)

    @property
    def bmi(self) -> float:
        """Return the body mass index, kg per square metre."""
        return self.weight_kg / (self.height_cm / 100) ** 2


@dataclass(frozen=True)
class Wish:
    """What the windows are for. Spans that are None follow the published ranges.

    `room` is the share by which a single figure is widened to both sides.
    """

    activity: str
    goal: Goal = "keep"
    by_kcal: float | None = None
    equation: str | None = None
    protein: Span | None = None
    fat: Span | None = None
    carbohydrate: Span | None = None
    room: float = 0.05


def refuse(person: Person, wish: Wish, *also: Callable[[], object]) -> None:
    """Refuse measures that are slips, and people for whom no equation here was made.

    What `also` refuses is told with the rest.

    Raises:
        BadOption: with every reason, one a line.
    """
    found = [*_slips(person), *_not_for(person, wish)]
    for check in also:
        try:
            check()
        except BadOption as error:
            found.append(str(error))
    if found:
        raise BadOption("\n".join(found))


def _slips(person: Person) -> Iterator[str]:
    values = {
        "--age": person.age_years,
        "--height": person.height_cm,
        "--weight": person.weight_kg,
        "--body-fat": person.body_fat_percent,
    }
    for option, value in values.items():
        low, high, unit = _RANGES[option]
        if value is not None and not low <= value <= high:
            yield f"{option} {value:g}: this is not from {low:g} to {high:g} {unit}"
    for group in person.care:
        if group not in CARE_GROUPS:
            yield f"--care {group}: not one of {', '.join(CARE_GROUPS)}"


def _not_for(person: Person, wish: Wish) -> Iterator[str]:
    if person.age_years < UNDER_AGE:
        yield (
            f"--age {person.age_years}: these equations are of adults; windows for children and "
            "adolescents are for licensed care"
        )
    if wish.goal != "lose":
        return
    if person.height_cm >= _RANGES["--height"][0] and person.bmi < LEAN_BMI:
        yield (
            f"--goal lose: the body mass index is {person.bmi:.1f}, below {LEAN_BMI:g}; eating "
            "less is then for licensed care"
        )
    for group in person.care:
        if group in CARE_GROUPS:
            yield f"--goal lose: with {CARE_GROUPS[group]}, eating less is for licensed care"
