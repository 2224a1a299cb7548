"""Train the small part-of-speech tagger that the ingredient parser asks NLTK for, and write it.

`python tests/benchmarks/train_tagger.py` writes the three files in `planopt/intake/tagger`. The
parser's own list tags most words of recipes; this model tags the rest by their form and their
neighbours. The phrases below are all there is to it; tags are those of the Penn Treebank.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[2] / "planopt" / "intake" / "tagger"
NAME = "averaged_perceptron_tagger_eng"
SENTENCES = 1500

NUMBERS_TEXT = "1 2 3 4 5 6 8 10 12 15 30 75 100 125 150 200 250 300 350 400 500 600 750 1000"
NUMBERS = NUMBERS_TEXT.split()
NUMBERS += ["#1$2", "#1$4", "#3$4", "#1$3", "#2$3", "1#1$2", "2#1$4", "3#1$2", "0.5", "1.5", "2.25"]
NUMBERS += ["1-2", "2-3", "4-5", "100-150"]
ONE_TEXT = (
    "cup tablespoon teaspoon gram ounce pound can tin jar packet package bunch head stalk sprig "
    "slice clove handful pinch piece stick knob bag box bottle pint quart litre liter kilogram "
    "fillet leaf rib spear rasher carton tub glass sheet ball block dash splash drop thumb"
)
ONE = ONE_TEXT.split()
SHORT = "g kg ml l oz lb tsp tbsp c dl cl"
UNITS = [(word, "NN") for word in [*ONE, *SHORT.split()]]
UNITS += [(word + "s", "NNS") for word in ONE if word != "leaf"] + [("leaves", "NNS")]
FOODS_TEXT = (
    "rice/NN quinoa/NN barley/NN couscous/NN bulgur/NN spaghetti/NN tofu/NN tempeh/NN yogurt/NN "
    "cheese/NN cream/NN milk/NN broth/NN vinegar/NN mustard/NN honey/NN syrup/NN tamari/NN "
    "chicken/NN turkey/NN beef/NN lamb/NN pork/NN salmon/NN cod/NN trout/NN tuna/NN ham/NN "
    "courgette/NN aubergine/NN zucchini/NN eggplant/NN kale/NN rocket/NN arugula/NN fennel/NN "
    "leek/NN beetroot/NN parsnip/NN turnip/NN swede/NN mango/NN papaya/NN banana/NN lime/NN "
    "turmeric/NN cumin/NN coriander/NN paprika/NN oregano/NN tarragon/NN sumac/NN fenugreek/NN "
    "chickpeas/NNS beans/NNS lentils/NNS peas/NNS oats/NNS noodles/NNS potatoes/NNS carrots/NNS "
    "almonds/NNS walnuts/NNS cashews/NNS seeds/NNS raisins/NNS dates/NNS berries/NNS prawns/NNS "
    "shallots/NNS radishes/NNS parsnips/NNS courgettes/NNS sprouts/NNS mussels/NNS olives/NNS"
)
FOODS = FOODS_TEXT.split()
PAIRS_TEXT = (
    "soy/NN sauce/NN|olive/NN oil/NN|peanut/NN butter/NN|coconut/NN milk/NN|oat/NN milk/NN|"
    "chicken/NN breasts/NNS|chicken/NN thighs/NNS|salmon/NN fillets/NNS|lamb/NN mince/NN|"
    "vegetable/NN stock/NN|tomato/NN paste/NN|butternut/NN squash/NN|bell/NN pepper/NN|"
    "cherry/NN tomatoes/NNS|kidney/NN beans/NNS|chia/NN seeds/NNS|maple/NN syrup/NN|"
    "baking/NN powder/NN|pork/NN loin/NN|beef/NN chuck/NN|bok/NN choy/NN|bay/NN leaves/NNS|"
    "spring/NN onions/NNS|goat/NN cheese/NN|wheat/NN flour/NN|lemon/NN juice/NN|corn/NN starch/NN"
)
PAIRS = PAIRS_TEXT.split("|")
KINDS_TEXT = (
    "large/JJ small/JJ medium/JJ fresh/JJ ripe/JJ raw/JJ dry/JJ lean/JJ whole/JJ plain/JJ "
    "red/JJ green/JJ brown/JJ white/JJ black/JJ firm/JJ boneless/JJ skinless/JJ unsalted/JJ "
    "low-fat/JJ extra-virgin/JJ long-grain/JJ all-purpose/JJ sea/NN baby/NN canned/VBN frozen/VBN "
    "dried/VBN ground/NN smoked/VBN rolled/VBN grated/VBN shredded/VBN cooked/VBN crushed/VBN "
    "unsweetened/JJ sweet/JJ sour/JJ hot/JJ cold/JJ warm/JJ tender/JJ crunchy/JJ smooth/JJ"
)
KINDS = KINDS_TEXT.split()
DONE_TEXT = (
    "chopped sliced diced minced grated peeled drained rinsed halved quartered trimmed cubed "
    "crumbled toasted melted beaten softened shredded deseeded stoned pitted cored mashed washed "
    "thawed squeezed crushed separated packed sifted shaved torn cut picked soaked cooked"
)
DONE = DONE_TEXT.split()
HOW_TEXT = "finely roughly thinly coarsely freshly lightly well thickly loosely firmly very"
HOW = HOW_TEXT.split()
ENDS_TEXT = (
    "to/TO taste/NN|for/IN serving/VBG|to/TO serve/VB|plus/CC extra/JJ for/IN dusting/VBG|"
    "at/IN room/NN temperature/NN|cut/VBN into/IN cubes/NNS|cut/VBN into/IN 2/CD cm/NN pieces/NNS|"
    "skin/NN on/IN|seeds/NNS removed/VBN|stems/NNS removed/VBN|leaves/NNS picked/VBN|"
    "drained/VBN and/CC rinsed/VBN|such/JJ as/IN basil/NN|as/RB needed/VBN|if/IN you/PRP like/VBP|"
    "each/DT about/IN 150/CD g/NN|with/IN their/PRP$ juice/NN|in/IN water/NN|or/CC more/JJR"
)
ENDS = ENDS_TEXT.split("|")

Tagged = list[tuple[str, str]]


def _pairs(text: str) -> Tagged:
    return [(word, tag) for word, tag in (part.rsplit("/", 1) for part in text.split())]


def _food(draw: random.Random) -> Tagged:
    kinds = [
        pair for _ in range(draw.choice((0, 0, 1, 1, 2))) for pair in _pairs(draw.choice(KINDS))
    ]
    return kinds + _pairs(draw.choice(PAIRS) if draw.random() < 0.4 else draw.choice(FOODS))


def _amount(draw: random.Random) -> Tagged:
    start: Tagged = [(draw.choice(NUMBERS), "CD")]
    if draw.random() < 0.08:
        start = [(draw.choice(("a", "an", "A", "An")), "DT")]
    elif draw.random() < 0.05:
        start = [("about", "IN"), *start]
    if draw.random() < 0.8:
        start.append(draw.choice(UNITS))
    if draw.random() < 0.12:
        unit = draw.choice(UNITS)
        start += [("(", "("), (draw.choice(NUMBERS), "CD"), unit, (")", ")")]
    if draw.random() < 0.12:
        start.append(("of", "IN"))
    return start


def _end(draw: random.Random) -> Tagged:
    chance = draw.random()
    if chance < 0.35:
        return []
    if chance < 0.6:
        return [(",", ","), *_pairs(draw.choice(ENDS))]
    words: Tagged = [(draw.choice(HOW), "RB")] if draw.random() < 0.4 else []
    words.append((draw.choice(DONE), "VBN"))
    if draw.random() < 0.3:
        words += [("and", "CC"), (draw.choice(DONE), "VBN")]
    return [("(", "("), *words, (")", ")")] if draw.random() < 0.2 else [(",", ","), *words]


def phrases() -> list[Tagged]:
    """Return the phrases that the tagger learns from, the same ones each time."""
    draw = random.Random(1)
    made = []
    for _ in range(SENTENCES):
        food = _food(draw)
        if draw.random() < 0.1:
            food += [(draw.choice(("or", "and")), "CC"), *_food(draw)]
        made.append([*(_amount(draw) if draw.random() < 0.93 else []), *food, *_end(draw)])
    return made


def trained() -> dict[str, Any]:
    """Return the contents of the three files by the middle of their names."""
    from nltk.tag.perceptron import PerceptronTagger  # takes a second

    tagger = PerceptronTagger(load=False)
    random.seed(1)  # NLTK shuffles with the common generator
    tagger.train(phrases(), nr_iter=5)
    weights = {
        feature: dict(sorted(tags.items()))
        for feature, tags in sorted(tagger.model.weights.items())
    }
    return {
        "weights": {feature: tags for feature, tags in weights.items() if tags},
        "tagdict": dict(sorted(tagger.tagdict.items())),
        "classes": sorted(tagger.classes),
    }


def main() -> None:
    """Write the files."""
    target = FOLDER / "taggers" / NAME
    target.mkdir(parents=True, exist_ok=True)
    for kind, content in trained().items():
        text = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
        (target / f"{NAME}.{kind}.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
