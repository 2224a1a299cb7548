"""Heat and time in the words of a recipe: oven, hob, temperatures inside, minutes of a step.

What is read here is a suggestion, and called certain only where two places of the recipe agree.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import ceil

_TEMPERATURE = re.compile(
    r"(\d{2,3})\s*(?:°|º|degrees?|deg\.?)?\s*(celsius|fahrenheit|centigrade|c|f)\b(?!\s*(?:fan|convection))",
    re.IGNORECASE,
)
_ONE_TO_TEN = "one two three four five six seven eight nine ten"
_WORDS = {word: float(number) for number, word in enumerate(_ONE_TO_TEN.split(), 1)} | {
    "a": 1.0,
    "an": 1.0,
    "half an": 0.5,
    "fifteen": 15.0,
    "twenty": 20.0,
    "thirty": 30.0,
}
_COUNT = rf"\d+(?:\.\d+)?|\b(?:{'|'.join(sorted(_WORDS, key=len, reverse=True))})"
_TIME = re.compile(
    rf"({_COUNT})\s*(?:(?:-|\u2013|to|or)\s*({_COUNT})\s*)?(minutes?|mins?|hours?|hrs?|h)\b",
    re.IGNORECASE,
)
_INSIDE = re.compile(
    r"\b(internal|internally|inside|cent(?:re|er)|middle|thermometer|thickest|core)\b",
    re.IGNORECASE,
)
# Where a dish stands, not what it reaches.
_MID_OVEN = re.compile(
    r"\b(?:cent(?:re|er)|middle|inside|core) (?:rack |shelf )?(?:of|in) (?:the|your|a|an)?\b"
    r".{0,20}\boven\b|\b(?:cent(?:re|er)|middle) (?:rack|shelf)\b"
    r"|\binside (?:the|your|a|an) .{0,12}oven\b",
    re.IGNORECASE,
)
_OVEN = re.compile(
    r"\b(oven|bakes?|baked|baking|roasts?|roasted|roasting|preheat)\b", re.IGNORECASE
)
_PREHEAT = re.compile(r"\b(preheat|heat (?:the|your|an) oven|oven to)\b", re.IGNORECASE)
_HOB = re.compile(
    r"\b(simmer\w*|boil(?:s|ing)?|bring .{0,40}to (?:a|the) (?:\w+ )?(?:boil|simmer)|fry|frying|"
    r"fries|saut\w+|sear(?:s|ing)?|soften|browns?(?= (?:the|it|them))|stir-fry|poach|steam(?: the|"
    r"ing)?|cook(?:s|ing)?|melt|wilt|sweat|caramelis\w+|scramble|griddle|skillet|saucepan|wok|"
    r"frying pan|dry pan|hob|stove(?:top)?|over (?:a )?(?:low|medium|high|gentle)|"
    r"(?:heat|warm|toast|reheat)"
    r"(?= (?:the|it|them|through|gently|up|a|half|some|olive|oil|in)\b))\b",
    re.IGNORECASE,
)
_NUMBER_LIST = re.compile(r"(?:(\d+)\s*:\s*)?(\d{2,3}(?:\.\d+)?)\s*c?", re.IGNORECASE)
# The two scales of one temperature differ by rounding, and no more than this.
TOLD_TWICE_C = 8.0
# Water boils there; what is hotter is no temperature inside.
HOTTEST_INSIDE_C = 100.0
COOLEST_OVEN_C = 60.0
# Times told in two places agree if they differ by no more.
AGREEING = 0.25


@dataclass(frozen=True)
class OvenUse:
    """Oven temperature and minutes."""

    temperature_c: float
    minutes: float

    def text(self) -> str:
        """Return it as it is written in an answer."""
        return f"{self.temperature_c:g} C {self.minutes:g} min"


@dataclass(frozen=True)
class Heat:
    """What heats a dish; None where nothing tells. `sure_*` if it can be taken without asking."""

    oven: OvenUse | None
    hob_minutes: float | None
    sure_oven: bool
    sure_hob: bool


def celsius_in(text: str) -> list[float]:
    """Return the temperatures of a text in degrees Celsius; of two scales, that of Celsius.

    >>> celsius_in("bake at 350 F (180 C)"), celsius_in("180C/160C fan until 165°F inside")
    ([180.0], [180.0, 73.9])
    """
    found = [(float(number), scale[0].lower()) for number, scale in _TEMPERATURE.findall(text)]
    celsius = [number for number, scale in found if scale == "c"]
    others = [round((number - 32) / 1.8, 1) for number, scale in found if scale == "f"]
    return celsius + [c for c in others if all(abs(c - told) > TOLD_TWICE_C for told in celsius)]


def minutes_in(text: str) -> float:
    """Return the minutes that a text tells, added up; of a range the longer time.

    >>> minutes_in("fry for 5 to 7 minutes, then simmer an hour"), minutes_in("four minutes")
    (67.0, 4.0)
    """
    total = 0.0
    for low, high, unit in _TIME.findall(text):
        told = (high or low).lower()
        number = _WORDS[told] if told in _WORDS else float(told)
        total += number * (60 if unit[0].lower() == "h" else 1)
    return total


def inside_c(step: str) -> float | None:
    """Return the temperature to reach inside that a step tells, the highest if several."""
    found = [
        c
        for sentence in re.split(r"(?<=[.;!])\s+|\bthen\b", step)
        if _tells_inside(sentence)
        for c in celsius_in(sentence)
        if 30 <= c <= HOTTEST_INSIDE_C
    ]
    return max(found, default=None)


def _tells_inside(text: str) -> bool:
    return _INSIDE.search(text) is not None and _MID_OVEN.search(text) is None


def heats(step: str) -> bool:
    """Tell whether a step heats food."""
    return bool(_HOB.search(step) or _OVEN.search(step))


def heat_of(steps: tuple[str, ...], cook_minutes: float | None) -> Heat:
    """Return what the steps and the cooking time tell of oven and hob."""
    oven_steps = [step for step in steps if _OVEN.search(step)]
    hob_steps = [step for step in steps if _HOB.search(step) and step not in oven_steps]
    temperatures = {
        _round_oven(c)
        for step in oven_steps
        for c in celsius_in(step)
        if c > HOTTEST_INSIDE_C or (c >= COOLEST_OVEN_C and not _tells_inside(step))
    }
    baking = [step for step in oven_steps if not _only_preheats(step)]
    baked = sum(minutes_in(step) for step in baking)
    boiled = sum(minutes_in(step) for step in hob_steps)
    oven = None
    if oven_steps and temperatures:
        rest = max((cook_minutes or 0.0) - boiled, 0.0)
        minutes = baked or rest
        oven = OvenUse(max(temperatures), minutes) if minutes > 0 else None
    sure_oven = not oven_steps or (oven is not None and baked > 0 and len(temperatures) == 1)
    if not hob_steps:
        hob: float | None = 0.0 if steps else None
        return Heat(
            oven, hob, sure_oven and bool(steps), bool(steps) and _agrees(baked, cook_minutes)
        )
    rest = max((cook_minutes or 0.0) - (oven.minutes if oven else 0.0), 0.0)
    # Where the oven takes all of the cooking time, little is left for the hob.
    hob = boiled or rest or (0.0 if baked and _agrees(baked, cook_minutes) else None)
    sure_hob = bool(boiled) and _agrees(boiled + baked, cook_minutes)
    return Heat(oven, hob, sure_oven, sure_hob)


def _agrees(minutes: float, told: float | None) -> bool:
    return abs(minutes - (told or 0.0)) <= AGREEING * max(minutes, told or 0.0)


def _only_preheats(step: str) -> bool:
    return bool(_PREHEAT.search(step)) and not minutes_in(step)


def _round_oven(celsius: float) -> float:
    """Return an oven temperature as dials have it, in steps of 5 degrees."""
    return float(round(celsius / 5) * 5)


def read_oven(text: str) -> OvenUse | str | None:
    """Return the oven use of an answer such as `180 C 40 min`, None for none, `?` if unreadable."""
    plain = " ".join(text.lower().split())
    if plain in ("none", "no", "0"):
        return None
    degrees, minutes = celsius_in(plain), minutes_in(plain)
    if len(degrees) == 1 and minutes > 0 and COOLEST_OVEN_C <= degrees[0] <= 300:
        return OvenUse(degrees[0], minutes)
    return "?"


def read_heats(text: str, steps: int) -> dict[int, float] | None:
    """Return step number -> Celsius of an answer such as `3: 74; 5: 74`, or None if unreadable.

    A temperature alone is that of the last step.
    """
    found: dict[int, float] = {}
    for part in text.replace("\u00b0", "").split(";"):
        match = _NUMBER_LIST.fullmatch(part.strip())
        if match is None:
            return None
        step, celsius = int(match[1] or steps), float(match[2])
        if not 1 <= step <= steps or not 30 <= celsius <= HOTTEST_INSIDE_C:
            return None
        found[step] = celsius
    return found


def suggested_step(steps: tuple[str, ...]) -> int | None:
    """Return the number of the last step that heats, where a temperature is checked best."""
    heating = [
        number for number, step in enumerate(steps, 1) if heats(step) and not _only_preheats(step)
    ]
    return heating[-1] if heating else None


def whole_celsius(least: float) -> int:
    """Return a least temperature in whole degrees, rounded as the published tables are."""
    return ceil(least - 0.2)
