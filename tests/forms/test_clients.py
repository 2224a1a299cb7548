"""The folder `clients`: what is handed over tells a client's own week and nobody else's."""

from __future__ import annotations

import re
from typing import Any

import pytest
from icalendar import Calendar

from page.crowd import crowd_plan
from planopt.cookday.containers import containers_of
from planopt.plan.handles import plan_with_handles
from planopt.report.files.folder import plan_contents
from planopt.scenario.households.handles import Handles, scenario_with_handles
from report_samples import sample_catalog, sample_plan, sample_scenario


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    """Return the files of two clients whose kitchen has notes, prices and cautions of its own."""
    clients = tuple(
        one.model_copy(update={"name": name, "note": "owes 20", "cautions": ("goes easy on salt",)})
        for one, name in zip(sample_scenario().clients, ("Annika", "Benedikt"), strict=True)
    )
    scenario = sample_scenario().model_copy(
        update={"clients": clients, "note": "Collect the deposit", "name": "Annika and Benedikt"}
    )
    plan = sample_plan()
    plan = plan.model_copy(
        update={
            "cautions": (*plan.cautions, "Annika: goes easy on salt", "Benedikt: little energy"),
            "scenario_name": scenario.name,
        }
    )
    contents = plan_contents(plan, sample_catalog(), scenario)
    return {
        name: re.sub(r"\s+", " ", str(text).replace("\r\n ", ""))
        for name, text in contents.items()
        if name.startswith("clients/")
    }


def test_each_client_has_a_page_and_a_calendar(texts: dict[str, str]) -> None:
    """Named by the ids, so that a name never is a path."""
    assert set(texts) == {
        "clients/ana.html", "clients/ana.ics", "clients/ben.html", "clients/ben.ics"
    }  # fmt: skip


@pytest.mark.parametrize("kind", ["html", "ics"])
@pytest.mark.parametrize(("who", "other"), [("ana", "Benedikt"), ("ben", "Annika")])
def test_nothing_of_others_no_prices_and_no_notes(
    texts: dict[str, str], who: str, other: str, kind: str
) -> None:
    """The title of the scenario, which names both, stays out as well."""
    text = texts[f"clients/{who}.{kind}"]
    assert {"ana": "Annika", "ben": "Benedikt"}[who] in text
    for words in (other, "USD", "15.10", "12.70", "deposit", "owes", "salt", "energy window"):
        assert words not in text, words


def test_a_page_says_what_when_and_how(texts: dict[str, str]) -> None:
    """Dish, servings, boxes, heating, thawing and the client's own numbers."""
    text = texts["clients/ana.html"]
    for words in (
        "Mon 4 Jan", "Lunch", "Plain mash", "Fish and potato bake, with haddock fillet and parsley",
        "1.5 servings, boxes 2, 3", "heat through to 74 C (165 F)", "eat cold", "Eat by",
        "From the freezer to the fridge", "Your numbers", "400 to 900", "548 kcal",
    ):  # fmt: skip
        assert words in text.replace("\xa0", " ").replace("&nbsp;", " "), words


@pytest.mark.parametrize("who", ["ana", "ben"])
@pytest.mark.parametrize("kind", ["html", "ics"])
def test_boxes_are_those_of_the_client(texts: dict[str, str], who: str, kind: str) -> None:
    """No number of another's box is told, with a meal or with what thaws."""
    boxes = containers_of(sample_plan(), sample_catalog(), sample_scenario())
    own = {box.number for box in boxes if box.client_id == who}
    told = re.findall(r"\b[Bb]ox(?:es)? ((?:\d+(?:\\?, )?)+)", texts[f"clients/{who}.{kind}"])
    found = {int(number) for words in told for number in re.findall(r"\d+", words)}
    assert found == own


def test_a_calendar_is_sound_and_reminds_of_thawing(texts: dict[str, str]) -> None:
    """Read by an independent parser: own events only, box numbers with the thawing."""
    catalog = sample_catalog()
    contents = plan_contents(sample_plan(), catalog, sample_scenario())
    calendar = Calendar.from_ical(str(contents["clients/ana.ics"]))
    assert str(calendar["name"]) == "Ana"
    kinds: dict[str, list[Any]] = {}
    for event in calendar.walk("VEVENT"):
        kinds.setdefault(str(event["categories"].cats[0]), []).append(event)
    assert set(kinds) == {"Eating", "Thawing"}
    days = {p.date for p in sample_plan().portions if p.client_id == "ana"}
    assert {event.start for event in kinds["Eating"]} == days
    thawed = " ".join(str(event["description"]) for event in kinds["Thawing"])
    assert re.search(r"Box \d+: Fish and potato bake", thawed)
    assert all(event.walk("VALARM") for event in kinds["Thawing"])
    ids = [str(event["uid"]) for event in calendar.walk("VEVENT")]
    other = Calendar.from_ical(str(contents["clients/ben.ics"]))
    assert not set(ids) & {str(event["uid"]) for event in other.walk("VEVENT")}


def test_handles_stand_for_names() -> None:
    """With `--handles` a shared print says who by the id alone."""
    scenario = sample_scenario()
    names = Handles.of_scenario(scenario)
    contents = plan_contents(
        plan_with_handles(sample_plan(), names), sample_catalog(),
        scenario_with_handles(scenario, names),
    )  # fmt: skip
    assert "<h1>ana</h1>" in str(contents["clients/ana.html"])
    assert "Ana" not in str(contents["clients/ana.html"])


def test_the_page_of_one_of_many_holds_no_other() -> None:
    """Of a crowd, each page names one."""
    contents = plan_contents(*crowd_plan(3, recipes=4))
    for name, text in contents.items():
        if name.startswith("clients/"):
            assert len(set(re.findall(r"Client \d{3}", str(text)))) == 1, name
