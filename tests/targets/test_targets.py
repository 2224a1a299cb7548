"""Windows from measures: defaults, floors, refusals, cautions."""

from __future__ import annotations

import pytest

from planopt.faults import BadOption
from planopt.targets.compute import targets_for
from planopt.targets.measures import read_height_cm, read_weight_kg
from planopt.targets.person import Person, Wish
from planopt.targets.spans import Span, read_span
from planopt.targets.text import scenario_lines, targets_data, targets_text

MAN = Person("male", 30, 180, 80)
WOMAN = Person("female", 35, 164, 65)


def test_body_fat_brings_the_equation_of_lean_mass_unless_told_otherwise() -> None:
    """All that fit are shown beside it."""
    assert targets_for(MAN, Wish("light")).equation.key == "mifflin"
    lean = Person("male", 30, 180, 80, body_fat_percent=15)
    found = targets_for(lean, Wish("light"))
    assert found.equation.key == "cunningham"
    assert [name for name, _ in found.others] == ["Mifflin-St Jeor 1990", "Cunningham 1991"]
    assert targets_for(lean, Wish("light", equation="mifflin")).resting_kcal == 1780


def test_windows_by_hand() -> None:
    """1780 x 1.55 = 2759 kcal; 5 % to both sides, outward to tens; grams inward to whole ones."""
    found = targets_for(MAN, Wish("light"))
    assert found.used_kcal == pytest.approx((2492.0, 2759.0, 3008.2))
    assert found.windows == {
        "energy_kcal": {"min": 2620, "max": 2900},
        "protein_g": {"min": 69, "max": 241},
        "fat_g": {"min": 62, "max": 107},
        "carbohydrate_g": {"min": 311, "max": 448},
    }
    assert found.split.outside == ()


def test_spans_asked_for_hold_and_what_leaves_the_ranges_is_told() -> None:
    """2.0 g/kg of 80 kg is 152 to 168 g; 45 % of fat is beyond 35 %."""
    wish = Wish("light", protein=read_span("2g/kg", ""), fat=read_span("40-45%", ""))
    found = targets_for(MAN, wish)
    assert found.windows["protein_g"] == {"min": 152, "max": 168}
    assert found.windows["fat_g"] == {"min": 123, "max": 137}
    # What is left, 100 - 24.4 - 45 to 100 - 22.0 - 40, lies below 45 %.
    assert found.split.rules["carbohydrate_g"] == "what the others leave"
    assert [text.split(" ", 1)[0] for text in found.split.outside] == ["Fat", "Carbohydrate"]
    assert any("acceptable range of 20 to 35 %" in text for text in found.cautions)


def test_losing_goes_no_lower_than_where_the_guideline_begins() -> None:
    """45 kg and 60 years: 926.5 x 1.55 - 500 is 936 kcal; 1,200 is proposed and told."""
    small = Person("female", 60, 150, 45)
    found = targets_for(small, Wish("light", "lose"))
    assert (found.aim_kcal, found.raised) == (1200, True)
    assert found.windows["energy_kcal"]["min"] == 1200
    assert "Raised to where that guideline begins" in targets_text(found)
    assert not targets_for(MAN, Wish("light", "lose")).raised


def test_nobody_who_uses_little_is_told_to_eat_more_to_lose() -> None:
    """926.5 x 1.2 is 1,112 kcal: that is the aim, with a caution, and not 1,200."""
    found = targets_for(Person("female", 60, 150, 45), Wish("1.2", "lose"))
    assert found.aim_kcal == pytest.approx(1111.8)
    assert found.windows["energy_kcal"] == {"min": 1110, "max": 1170}
    assert any("below 1200 kcal, where the 2013" in text for text in found.cautions)


def test_every_result_says_that_it_is_an_estimate_and_promises_nothing() -> None:
    """Whatever is asked for."""
    for goal in ("keep", "lose", "gain"):
        found = targets_for(WOMAN, Wish("moderate", goal))  # type: ignore[arg-type]
        assert any("promises no change of weight" in text for text in found.cautions)
        assert all(text.startswith("Targets: ") for text in found.cautions)
        assert found.equation.error in " ".join(targets_text(found).split())


def test_groups_for_licensed_care_are_told_first() -> None:
    """And a lean body is one of them."""
    kidney = Person("male", 50, 175, 80, care=("kidney_disease",))
    found = targets_for(kidney, Wish("light", protein=read_span("1.6g/kg", "")))
    assert found.cautions[0].startswith("Targets: kidney disease: licensed care first")
    assert any("more than 1.3 g/kg is to be avoided" in text for text in found.cautions)
    lean = targets_for(Person("female", 25, 175, 52), Wish("light", "gain"))
    assert lean.cautions[0].startswith("Targets: body mass index 17.0, below 18.5")
    old = targets_for(Person("female", 85, 160, 60), Wish("light"))
    assert any("age 85 is outside 19 to 78 years" in text for text in old.cautions)


def test_all_that_is_wrong_is_told_at_once() -> None:
    """Slips of units, a word that is no activity, people whom the equations are not for."""
    with pytest.raises(BadOption) as told:
        targets_for(Person("male", 12, 1.8, 700, care=("flu",)), Wish("wild", "lose"))
    options = [line.split(" ", 1)[0] for line in str(told.value).splitlines()]
    assert options == ["--height", "--weight", "--care", "--age", "--activity"]


@pytest.mark.parametrize(
    ("person", "wish", "why"),
    [
        (Person("female", 25, 175, 52), Wish("light", "lose"), "body mass index is 17.0"),
        (
            Person("female", 30, 165, 60, care=("pregnancy",)),
            Wish("light", "lose"),
            "with pregnancy, eating less is for licensed care",
        ),
        (Person("female", 90, 150, 30), Wish("1.2"), "below 800 kcal a day"),
        (MAN, Wish("light", equation="cunningham"), "give --body-fat"),
        (MAN, Wish("light", equation="guess"), "not one of mifflin, cunningham"),
        (MAN, Wish("3"), "a level is from 1.2 to 2.5"),
        (MAN, Wish("light", by_kcal=200), "goes with --goal lose"),
        (MAN, Wish("light", "gain", by_kcal=9000), "not from 0 to 1500"),
        (
            MAN,
            Wish("light", protein=Span(60, 60, "%"), fat=Span(60, 60, "%")),
            "kcal at least, the energy window ends",
        ),
        (
            MAN,
            Wish(
                "light",
                protein=Span(10, 10, "%"),
                fat=Span(10, 10, "%"),
                carbohydrate=Span(10, 10, "%"),
            ),
            "kcal at most, the energy window begins",
        ),
    ],
)
def test_what_cannot_be_is_refused(person: Person, wish: Wish, why: str) -> None:
    """Each with its reason."""
    with pytest.raises(BadOption, match=why):
        targets_for(person, wish)


def test_measures_in_the_units_that_people_use() -> None:
    """Feet, inches, metres and pounds; exact factors of 1959."""
    assert read_height_cm("168") == read_height_cm("168 cm") == 168
    assert read_height_cm("1.68m") == pytest.approx(168)
    assert read_height_cm("5ft6in") == read_height_cm("5'6\"") == pytest.approx(167.64)
    assert read_height_cm("66in") == pytest.approx(167.64)
    assert read_weight_kg("154 lb") == pytest.approx(69.853, abs=0.001)
    assert read_weight_kg("70") == read_weight_kg("70kg") == 70
    for text in ("tall", "", "-5"):
        with pytest.raises(BadOption):
            read_height_cm(text)
        with pytest.raises(BadOption):
            read_weight_kg(text)


@pytest.mark.parametrize("text", ["", "1.6", "g/kg", "35-20%", "200%", "40g/kg", "1,6g/kg"])
def test_texts_that_are_no_span(text: str) -> None:
    """Neither a figure without a unit nor a range upside down."""
    with pytest.raises(BadOption, match="--protein"):
        read_span(text, "--protein")


def test_texts_stay_within_eighty_columns_and_data_has_all_of_it() -> None:
    """For a terminal, for a file, for a program."""
    wish = Wish("moderate", "lose", protein=read_span("1.4-2.0g/kg", ""))
    found = targets_for(Person("female", 35, 164, 65, 28), wish)
    assert all(len(line) <= 80 for line in targets_text(found).splitlines())
    energy = found.windows["energy_kcal"]
    assert f"energy_kcal: {{min: {energy['min']}, max: {energy['max']}}}" in scenario_lines(found)
    data = targets_data(found)
    assert data["equation"] == "Cunningham 1980"
    assert data["windows_per_day"] == found.windows
    assert data["cautions"] == list(found.cautions)
