"""Words of the trade that food names are compared by: same foods under other names, and mere looks.

From common knowledge of kitchens, no source. A name stands here only where the food is the same
one; what is merely like it (double cream, tomato purée, smoked paprika) is for a person to judge.
"""

from __future__ import annotations

# Phrases of other lands and kitchens -> the phrase that stands for both.
SAME_FOOD = {
    "all purpose flour": "white wheat flour",
    "aubergine": "eggplant",
    "beetroot": "beet",
    "bicarbonate of soda": "baking soda",
    "brussel sprout": "brussels sprout",
    "bulgar": "bulgur",
    "bulgur wheat": "bulgur",
    "capsicum": "bell pepper",
    "caster sugar": "white sugar",
    "cashew nut": "cashew",
    "chopped tomato": "diced tomato",
    "chilli powder": "chili powder",
    "cornflour": "cornstarch",
    "courgette": "zucchini",
    "desiccated coconut": "dried coconut",
    "edamame bean": "edamame",
    "extra virgin olive oil": "olive oil",
    "fresh coriander": "cilantro",
    "coriander leaf": "cilantro",
    "free range": "",
    "garbanzo bean": "chickpea",
    "garbanzo": "chickpea",
    "good quality": "",
    "granulated sugar": "white sugar",
    "green onion": "scallion",
    "king prawn": "shrimp",
    "light tuna": "tuna",
    "minced beef": "ground beef",
    "minced lamb": "ground lamb",
    "minced pork": "ground pork",
    "minced turkey": "ground turkey",
    "beef mince": "ground beef",
    "lamb mince": "ground lamb",
    "pork mince": "ground pork",
    "turkey mince": "ground turkey",
    "natural yogurt": "plain yogurt",
    "pak choi": "bok choy",
    "plain flour": "white wheat flour",
    "porridge oat": "rolled oat",
    "prawn": "shrimp",
    "rapeseed oil": "canola oil",
    "rocket": "arugula",
    "salad onion": "scallion",
    "sea salt": "salt",
    "table salt": "salt",
    "spring onion": "scallion",
    "soya": "soy",
    "stock": "broth",
    "tap water": "water",
    "wholegrain": "whole grain",
    "wholemeal": "whole wheat",
    "wholewheat": "whole wheat",
    "yoghurt": "yogurt",
}
# Words on looks, freshness and cuts that leave a food the same one.
_LOOKS_TEXT = (
    "fresh freshly ripe large small medium big extra thick thin thinly finely roughly coarsely "
    "chopped sliced diced cubed grated shredded crumbled minced halved quartered crushed torn "
    "boneless skinless shelled hulled pitted peeled trimmed washed rinsed drained packed loosely "
    "firmly lightly heaped organic cold hot warm boiling lukewarm cooked "
    "uncooked toasted melted softened fine its their raw king baby long grain short pearl picked "
    "room temperature lean bought store beaten mashed thawed deveined dry dried"
)
LOOKS = frozenset(_LOOKS_TEXT.split())
# Parts in which a food is sold or counted, and small words; a food's own name may do without them.
_PARTS_TEXT = (
    "leaf leaves bulb head root block floret spear stalk fillet chop piece clove bunch sprig slice "
    "of the a an and or in with for from"
)
PARTS = frozenset(_PARTS_TEXT.split())
# Words that tell how a food is kept; they part foods that are otherwise of one name.
KEPT = {
    "canned": "canned",
    "tinned": "canned",
    "can": "canned",
    "tin": "canned",
    "frozen": "frozen",
    "dried": "dried",
    "dry": "dried",
    "fresh": "fresh",
}
# What is drained may well come from a can.
MAY_BE_CANNED = frozenset({"drained", "jar"})
# Words beside the food that make it another one.
_MATTERS_TEXT = (
    "salted smoked sweetened sugared vegan pickled candied marinated flavoured flavored bone "
    "gluten dairy lactose sodium nonfat"
)
MATTERS = frozenset(_MATTERS_TEXT.split())
