"""What a person must say before a label is believed: claims, names kept for others, odd figures.

No rule here refuses a label. Each is a question with the clause that it comes from; whoever makes
the food answers it, for the answer is not on the label. The words are from memory where nothing
else is said; the local authority decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

import msgspec

from labels.facts import Facts, Ingredient
from labels.naming import plain
from labels.say import Said, join, say

FAR_LESS = Decimal("0.1")  # of what went in: common practice, no source


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """A question about a label. ``key`` names it within the label, ``basis`` what it rests on."""

    key: str
    text: Said
    clause: str
    basis: str


# kind of claim: its words, the clause in the US and in the EU. Words in the languages of labels,
# in Italian and in Dutch.
_CLAIMS = {
    "organic": (
        r"organic\w*|ecologic[oa]s?|\bbio(?:tofu)?\b|biolog\w+|\boko(?:logisch\w*)?\b|有机|有機|"
        r"huu co",
        "7 CFR 205.301, 205.303",
        "Regulation (EU) 2018/848 Art. 30, 32",
    ),
    "gluten-free": (
        r"gluten[ -]?free|no gluten|(?:without|free of) gluten|sin gluten|libre de gluten|"
        r"glutenfrei\w*|sans gluten|senza glutine|glutenvrij\w*|(?:无|無|不含)(?:麸质|麩質|谷蛋白)|"
        r"khong (?:chua |co )?gluten",
        "21 CFR 101.91",
        "Regulation (EU) 828/2014",
    ),
    "free": (
        r"\b\w+(?:[ -]|(?<=\w{3}))free\b|\b(?:0 ?%|zero) \w+|free (?:of|from) \w+|"
        r"\bno (?:added|artificial|preservatives?|sugar|salt|fat)\b|\bwithout \w+|libre de \w+|"
        r"\bsin \w+|\w{3,}frei(?:e[mnrs]?)?\b|\bohne \w+|\bsans \w+|senza \w+|\w{3,}vrij\b|"
        r"zonder \w+|不含|[无無零](?:添加|脂|糖|防腐)|khong (?:chua|co|them|đuong)",
        "21 CFR 101.13, 101.60 to 101.62",
        "Regulation (EC) 1924/2006 Art. 8 and Annex; 1169/2011 Art. 7(1)",
    ),
    "nutrient": (
        r"\b(?:high|rich|low|reduced|lower|higher) (?:in |source of )?(?:\w+ )?(?:protein|"
        r"fib(?:er|re)|fat|salt|sodium|sugar|calories?|energy|iron|calcium|cholesterol|"
        r"carb\w*|vitamins?)|"
        r"(?:high|low|reduced)[ -](?:protein|fib(?:er|re)|fat|salt|sodium|sugar|calorie|carb)\w*|"
        r"\w+[ -]rich\b|(?:good |excellent |great )?source of|"
        r"\brich in\b|\bhigh in\b|\blow in\b|\blight\b|\blite\b|\blean\b|"
        r"alto (?:en|contenido)|ric[oa] en|bajo en|fuente de|reich an|\w*arm an|"
        r"(?<!oster)reich(?:e[mnrs]?)?\b|hoher \w*gehalt|(?:fett|salz|zucker|kalorien)arm|"
        r"\w*quelle\b|riche en|source d|pauvre en|ricc[oa] di|fonte di|\brijk aan|bron van|"
        r"[高低](?:蛋白|钙|鈣|脂|糖|盐|鹽|纤|纖|钠|鈉)|富含|\bgiau |\bit (?:beo|đuong|muoi)\b",
        "21 CFR 101.13, 101.54 to 101.62; it ends the exemption of 21 USC 343(q)(5)(D)",
        "Regulation (EC) 1924/2006 Art. 8 and Annex",
    ),
    "health": (
        r"health\w*|wellness|\bheart\b|immun\w+|\bdetox\w*|\bcures?\b|diabet\w+|cancer|bones?\b|"
        r"digest\w+|superfood\w*|probiotic\w*|prebiotic\w*|slim\w*|saludable\w*|\bsalud\b|corazon|"
        r"gesund\w*|\bherz\w*|\bsante\b|\bsain[es]*\b|\bcoeur\b|salutare|\bsano\b|gezond\w*|"
        r"健康|养生|養生|[减減]肥|suc khoe",
        "21 CFR 101.14",
        "Regulation (EC) 1924/2006 Art. 10",
    ),
}
# 1308/2013 Annex VII part III 2; C-422/16 (14 June 2017): not for plant products, soy or tofu
# added or not. Decision 2010/791/EU lists what may be called so, by language (from memory).
_DAIRY = (
    r"\b(?:milk|buttermilk|butter|cream|cheese|yogh?urt|whey|kephir|kefir|casein|smetana|quark|"
    r"mozzarella|ricotta|parmesan|cheddar|feta|leche|mantequilla|nata|queso|yogur|suero|lait|beurre|creme|fromage|yaourt|latte|burro|panna|"
    r"formaggio|melk|boter|room|kaas|karnemelk)\b|milch|butter|sahne|rahm\b|kase\b|joghurt|molke|"
    r"\b\w*(?:melk|boter|kaas)\b"
)
_DAIRY_MAY = (
    r"coconut (?:milk|cream)|(?:cocoa|peanut|shea|nut|almond|cashew) butter|butter ?beans?|"
    r"butternut|cream soda|cream crackers?|salad cream|cream of tartar|leche de almendras?|"
    r"lait (?:d'amande|de coco)|beurre de (?:cacao|cacahuetes?)|creme de (?:coco|riz|marrons?)|"
    r"kokosmilch|kakaobutter|latte di (?:mandorla|cocco)|burro di cacao|kokosmelk|cacaoboter|"
    r"pindakaas"
)
# 1169/2011 Annex VII part C: the function before the name. 1333/2008 numbers.
_ADDITIVE = (
    r"\be ?\d{3}\w?\b|sul(?:f|ph)ate?\b|sulfat\b|sulfato|solfato|chloride|chlorid\b|chlorure|"
    r"cloruro|glucono|lact?on|citric acid|zitronensaure|acide citrique|acido citric|citroenzuur|"
    r"nigari|gypsum|\bgips\b|lecithin|lezithin|lecitina|carrageen|xanthan|\bagar\b|"
    r"bicarbonate|bicarbonato|ascorb|benzoat|sorbat|glutamat|\bmsg\b|\bgdl\b|phosphat|fosfat|citrat|"
    r"lactic acid|milchsaure|acide lactique|acido lactico|\w+ gum\b|diglycerid|pectin"
)
_CATEGORY = (
    r"agent|regulator|corrector|correcteur|correttore|regulador|regolatore|regelaar|middel|mittel|"
    r"affermissant|endurecedor|resistenza|stabili[sz]|emulsi|emulga|thicken|espesante|epaississant|"
    r"addensante|verdicking|preserv|conserva|konservier|antioxid|acidity|acidulant|colou?r|"
    r"farbstoff|colorant|gelling|gelifi|raising|sequestr|firming"
)
# 1169/2011 Annex VII part A 8: "vegetable oils" is at once followed by the plants.
_OIL = (
    r"^(?:refined )?(?:vegetable )?(?:cooking |frying )?(?:oils?|fats?)$|"
    r"^(?:pflanzen|speise|pflanzliches |pflanzliche )?(?:ole?|fett)$|^(?:huiles?|graisses?)"
    r"(?: vegetales?)?$|^(?:aceites?|grasas?)(?: vegetal(?:es)?)?$|^(?:oli[oi]|grass[oi])(?: "
    r"vegetal[ei])?$|^(?:plantaardige )?(?:olie|olien|vet)$"
)
_PLAIN_WORDS = frozenset(
    {
        "the",
        "with",
        "and",
        "of",
        "in",
        "fine",
        "whole",
        "dried",
        "fresh",
        "ground",
        "seed",
        "seeds",
        "powder",
        "oil",
        "sauce",
        "syrup",
        "flour",
        "black",
        "white",
        "brown",
        "red",
        "water",
        "salt",
    }
)


def doubts(facts: Facts, market: str, filled: Decimal | None = None) -> list[Doubt]:
    """Everything about a label that a person must say first.

    ``filled`` is how much all packs of the batch hold, in grams or millilitres, where it is known.
    """
    found = [*_claims(facts, market), *_net(facts, filled)]
    if market == "eu":
        found += [*_dairy(facts), *_percentages(facts), *_additives(facts), *_oils(facts)]
    return found


def _claims(facts: Facts, market: str) -> Iterator[Doubt]:
    """Words that promise: each kind asked once, with all that was found. They rest on the words and
    on what is in it: free of gluten is no food with a new sauce."""
    own = (facts.name, facts.form, facts.second_name, facts.handling, facts.storage)
    texts = [text for text in own if text]
    left = [plain(text) for text in texts]
    inside = sorted({*facts.sources(), *(plain(item.name) for item in _all(facts.ingredients))})
    for kind, (words, us, eu) in _CLAIMS.items():
        said = [m[0] for text in left for m in re.finditer(words, text)]
        left = [re.sub(words, " ", text) for text in left]  # gluten-free is no other claim as well
        if said:
            claims = join(", ", (say("'{word}'", word=word) for word in dict.fromkeys(said)))
            yield Doubt(
                key=kind,
                text=say("the label claims {words}: what proves it", words=claims),
                clause=us if market == "us" else eu,
                basis=" | ".join([*texts, *inside]),
            )


def _net(facts: Facts, filled: Decimal | None) -> Iterator[Doubt]:
    """What the packs hold against what went in. Water given off is usual, more than went in not."""
    went = sum((i.grams for i in facts.ingredients), Decimal(0))
    if not filled or not went or facts.net is None or FAR_LESS * went <= filled <= went:
        return
    net = "weighed" if facts.net.random else f"{facts.net.grams or facts.net.ml}"
    yield Doubt(
        key="net",
        text=say(
            "all packs hold {packed} g by their net quantity, and {went} g went in",
            packed=filled.quantize(Decimal(1)),
            went=went.quantize(Decimal(1)),
        ),
        clause="21 USC 343(e); EU 1169/2011 Art. 7(1), 23",
        basis=f"{net} {'more' if filled > went else 'less'} than went in",
    )


def _dairy(facts: Facts) -> Iterator[Doubt]:
    if any(key.partition(":")[0] == "milk" for key in facts.sources()):
        return
    for name in (facts.name, facts.second_name):
        if found := re.search(_DAIRY, re.sub(_DAIRY_MAY, " ", plain(name))):
            yield Doubt(
                key="dairy",
                text=say(
                    "the name '{name}' says '{word}', which is kept for what is made of milk",
                    name=name,
                    word=found[0],
                ),
                clause="EU 1308/2013 Art. 78(2), Annex VII part III; C-422/16; 2010/791/EU",
                basis=f"{facts.name} | {facts.second_name}",
            )
            return


def _percentages(facts: Facts) -> Iterator[Doubt]:
    """An ingredient in the name of the food, and no percentage."""
    if len(facts.ingredients) < 2:
        return
    listed = [i for i in facts.ingredients if not i.water and not i.aid]
    named = _words(f"{facts.name} {facts.second_name}")
    for item in (i for i in listed if not i.quid):
        own = _words(f"{item.name} {item.second}")
        if hit := next((n for n in named for w in own if _alike(n, w)), ""):
            yield Doubt(
                key=f"percent.{_key(item.name)}",
                text=say(
                    "the name says '{word}', and the label no percentage of '{ingredient}'",
                    word=hit,
                    ingredient=item.name,
                ),
                clause="EU 1169/2011 Art. 22, Annex VIII",
                basis=f"{facts.name} | {item.name}",
            )


def _alike(name: str, word: str) -> bool:
    """Whether the same thing is meant: "soy" and "soybean", "sesamtofu" and "sesam"."""
    return word.startswith(name) or name.startswith(word) or name.endswith(word)


def _words(text: str) -> list[str]:
    found = re.findall(r"\w{3,}", plain(text))
    return [w.removesuffix("s") for w in found if w not in _PLAIN_WORDS and w != "tofu"]


def _additives(facts: Facts) -> Iterator[Doubt]:
    for item in _all(facts.ingredients):
        name = plain(item.name)
        if not item.aid and re.search(_ADDITIVE, name) and not re.search(_CATEGORY, name):
            yield Doubt(
                key=f"additive.{_key(item.name)}",
                text=say(
                    "the additive '{name}' has no category before it, such as firming agent",
                    name=item.name,
                ),
                clause="EU 1169/2011 Art. 18(4), Annex VII part C",
                basis=item.name,
            )


def _oils(facts: Facts) -> Iterator[Doubt]:
    for item in _all(facts.ingredients):
        if not item.parts and re.search(_OIL, plain(item.name)):
            yield Doubt(
                key=f"oil.{_key(item.name)}",
                text=say("the fat '{name}' does not say of which plant it is", name=item.name),
                clause="EU 1169/2011 Annex VII part A 8, 9",
                basis=item.name,
            )


def _all(items: tuple[Ingredient, ...]) -> Iterator[Ingredient]:
    for item in items:
        yield item
        yield from _all(item.parts)


def _key(name: str) -> str:
    return "-".join(re.findall(r"\w+", plain(name))) or "one"
