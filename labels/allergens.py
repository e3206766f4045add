"""The sources of food allergy a label must name, and what they are called.

United States: 21 USC 321(qq), nine sources, sesame since 2023-01-01. European Union: Regulation
1169/2011 Annex II, fourteen. A key names one source; where the law asks for the kind, it follows
behind a colon: ``tree-nut:almond``, ``fish:cod``, ``crustacean:shrimp``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from labels.errors import BadValue
from labels.say import say

# key: (US name or "" where US law does not list it, English, German, French, Spanish, Chinese,
# Vietnamese). The last three are of second languages, from memory: a native reader should check.
SOURCES = {
    "milk": ("milk", "milk", "Milch", "lait", "leche", "牛奶", "sữa"),
    "egg": ("egg", "egg", "Ei", "œuf", "huevo", "鸡蛋", "trứng"),
    "fish": ("fish", "fish", "Fisch", "poisson", "pescado", "鱼", "cá"),
    "crustacean": (
        "crustacean shellfish",
        "crustaceans",
        "Krebstiere",
        "crustacés",
        "crustáceos",
        "甲壳类",
        "giáp xác",
    ),
    "tree-nut": (
        "tree nuts",
        "nuts",
        "Schalenfrüchte",
        "fruits à coque",
        "nueces de árbol",
        "坚果",
        "các loại hạt",
    ),
    "wheat": ("wheat", "wheat", "Weizen", "blé", "trigo", "小麦", "lúa mì"),
    "peanut": ("peanuts", "peanuts", "Erdnüsse", "arachides", "cacahuates", "花生", "đậu phộng"),
    "soy": ("soy", "soya", "Soja", "soja", "soya", "大豆", "đậu nành"),
    "sesame": ("sesame", "sesame", "Sesam", "sésame", "sésamo", "芝麻", "mè"),
    "rye": ("", "rye", "Roggen", "seigle", "centeno", "黑麦", "lúa mạch đen"),
    "barley": ("", "barley", "Gerste", "orge", "cebada", "大麦", "lúa mạch"),
    "oats": ("", "oats", "Hafer", "avoine", "avena", "燕麦", "yến mạch"),
    "celery": ("", "celery", "Sellerie", "céleri", "apio", "芹菜", "cần tây"),
    "mustard": ("", "mustard", "Senf", "moutarde", "mostaza", "芥末", "mù tạt"),
    "sulphites": ("", "sulphites", "Sulfite", "sulfites", "sulfitos", "亚硫酸盐", "sulfit"),
    "lupin": ("", "lupin", "Lupinen", "lupin", "altramuces", "羽扇豆", "đậu lupin"),
    "mollusc": ("", "molluscs", "Weichtiere", "mollusques", "moluscos", "软体动物", "nhuyễn thể"),
}
LANGUAGES = ("en", "de", "fr", "es", "zh", "vi")
# 21 USC 343(w)(2) asks for the nut, the fish, the shellfish; Annex II for the nut. By language as
# above: nuts in German and French after Annex II, all others from memory.
KIND_NAMES = {
    "tree-nut": (
        ("almond", "Mandeln", "amandes", "almendras", "扁桃仁", "hạnh nhân"),
        ("hazelnut", "Haselnüsse", "noisettes", "avellanas", "榛子", "hạt phỉ"),
        ("walnut", "Walnüsse", "noix", "nueces", "核桃", "óc chó"),
        ("cashew", "Kaschunüsse", "noix de cajou", "anacardos", "腰果", "hạt điều"),
        ("pecan", "Pecannüsse", "noix de pécan", "pacanas", "碧根果", "hạt hồ đào"),
        ("Brazil nut", "Paranüsse", "noix du Brésil", "nueces de Brasil", "巴西坚果", "hạt Brazil"),
        ("pistachio", "Pistazien", "pistaches", "pistachos", "开心果", "hạt dẻ cười"),
        (
            "macadamia",
            "Macadamianüsse",
            "noix de Macadamia",
            "nueces de macadamia",
            "夏威夷果",
            "hạt mắc ca",
        ),
        ("pine nut", "Pinienkerne", "pignons de pin", "piñones", "松子", "hạt thông"),
    ),
    "fish": (
        ("anchovy", "Sardellen", "anchois", "anchoas", "鳀鱼", "cá cơm"),
        ("bass", "Barsch", "bar", "lubina", "鲈鱼", "cá vược"),
        ("bonito", "Bonito", "bonite", "bonito", "鲣鱼", "cá ngừ vằn"),
        ("catfish", "Wels", "poisson-chat", "bagre", "鲶鱼", "cá da trơn"),
        ("cod", "Kabeljau", "cabillaud", "bacalao", "鳕鱼", "cá tuyết"),
        ("flounder", "Flunder", "flet", "platija", "比目鱼", "cá bơn"),
        ("herring", "Hering", "hareng", "arenque", "鲱鱼", "cá trích"),
        ("mackerel", "Makrele", "maquereau", "caballa", "鲭鱼", "cá thu"),
        ("pollock", "Pollack", "lieu", "abadejo", "狭鳕", "cá minh thái"),
        ("salmon", "Lachs", "saumon", "salmón", "三文鱼", "cá hồi"),
        ("sardine", "Sardine", "sardine", "sardina", "沙丁鱼", "cá mòi"),
        ("tilapia", "Tilapia", "tilapia", "tilapia", "罗非鱼", "cá rô phi"),
        ("tuna", "Thunfisch", "thon", "atún", "金枪鱼", "cá ngừ"),
    ),
    "crustacean": (
        ("crab", "Krabben", "crabe", "cangrejo", "螃蟹", "cua"),
        ("crayfish", "Flusskrebse", "écrevisse", "cangrejo de río", "小龙虾", "tôm hùm đất"),
        ("lobster", "Hummer", "homard", "langosta", "龙虾", "tôm hùm"),
        ("prawn", "Garnelen", "crevettes", "langostino", "对虾", "tôm"),
        ("shrimp", "Garnelen", "crevettes", "camarón", "虾", "tôm"),
    ),
}
KINDS = ("fish", "crustacean", "tree-nut")  # 21 USC 343(w)(2): the species or nut is named

# What in a name already says the source as Annex II calls it, so that it need not be added. Of nuts
# the annex names each kind, so the kind alone counts; "cod" does not say fish.
_SAYS = {
    "milk": r"milk(?!fish)|milch(?!säure)|\blait\b|\bleche\b|牛奶",
    "egg": r"\beggs?\b|\bei(?:er|gelb|weiß)?\b|\b(?:œ|oe)ufs?\b|\bhuevos?\b|鸡蛋|trứng",
    "fish": r"(?<!shell)(?<!cray)(?<!cuttle)(?<!jelly)fish|(?<!tinten)fisch|poisson|pescado",
    "crustacean": r"crustacean|krebstier|crustacé|crustáceo|甲壳类|giáp xác",
    "wheat": r"(?<!buck)wheat|(?<!buch)weizen|\bblé\b(?! noir)|froment"
    r"|\btrigo\b(?! sarraceno)|小麦|lúa mì",
    "peanut": r"peanut|erdn[uü]ss|arachide|cacahuète|cacahuate|cacahuete|花生|đậu phộng",
    "soy": r"soy|soja|大豆|đậu nành",
    "sesame": r"sesam|sésam|芝麻|\bmè\b",
    "rye": r"\brye\b|roggen|seigle|centeno|黑麦",
    "barley": r"barley|gerste|\borge\b|cebada|大麦",
    "oats": r"\boat|hafer|avoine|\bavena\b|燕麦|yến mạch",
    "celery": r"celery|sellerie|céleri|\bapio\b|芹菜|cần tây",
    "mustard": r"mustard|senf|moutarde|mostaza|芥末|mù tạt",
    "sulphites": r"sulphit|sulfit|亚硫酸盐|dioxide de soufre|sul(?:ph|f)ur dioxide|schwefeldioxid",
    "lupin": r"lupin|altramu|羽扇豆",
    "mollusc": r"mollusc|weichtier|mollusque|molusco|软体动物|nhuyễn thể",
}
# Milk in name only: "coconut milk" does not say that there is milk in it, "soy milk" says soy.
_PLANT_MILK = (
    r"\b(soya?|soja|coconut|kokos(?:nuss)?|almond|mandel|oat|hafer|rice|reis)[ -]?(?:milk|milch)"
    r"|\blait (?=de (?:soja|coco|riz)|d[’'](?:amande|avoine))"
    r"|\bleche (?=de (?:soy?a|soja|coco|arroz|almendras?|avena))"
)


def check_source(key: str, where: str) -> None:
    """Raise BadValue unless ``key`` is a known source, with its kind where one must be named."""
    source, _, kind = key.partition(":")
    do = say("Write {allergen}", allergen=source)
    if source not in SOURCES:
        why, do = (
            say("the source is not known"),
            say("Use one of {names}", names=", ".join(SOURCES)),
        )
    elif source in KINDS and not kind.strip():
        why = say("the law asks for the kind")
        do = say(
            "Write {allergen}: and the kind, such as tree-nut:almond, fish:cod, crustacean:shrimp",
            allergen=source,
        )
    elif source not in KINDS and kind:
        why = say("'{allergen}' has no kinds", allergen=source)
    else:
        return
    tried = say(
        "note allergen '{allergen}' of ingredient '{ingredient}'", allergen=key, ingredient=where
    )
    raise BadValue(tried, why, do)


def kind_named(key: str, language: str) -> str:
    """The nut, fish or shellfish of a key in a language of labels; "" where it is not known.

    It may be written in any of them, one or several.

    >>> kind_named("tree-nut:almond", "de"), kind_named("tree-nut:Mandeln", "es")
    ('Mandeln', 'almendras')
    >>> kind_named("fish:cod", "zh"), kind_named("fish:opah", "es")
    ('鳕鱼', '')
    """
    row = _kind_row(key)
    return row[LANGUAGES.index(language)] if row else ""


def _kind_row(key: str) -> tuple[str, ...]:
    source, _, kind = key.partition(":")
    wanted = _singular(kind)
    found = (r for r in KIND_NAMES.get(source, ()) if wanted in map(_singular, r))
    return next(found, ())


def _singular(kind: str) -> str:
    plain = kind.strip().casefold()
    for end, one in (("ovies", "ovy"), ("s", "")):
        if plain.endswith(end):
            return plain.removesuffix(end) + one
    return plain


def us_names(keys: Iterable[str], language: str = "en") -> list[str]:
    """Names of the nine sources in the order of ``keys``; kinds in brackets behind their source.

    >>> us_names(("soy", "tree-nut:almond", "fish:cod", "tree-nut:cashew", "celery"))
    ['soy', 'tree nuts (almond, cashew)', 'fish (cod)']
    >>> us_names(("soy", "tree-nut:almond"), "es")
    ['soya', 'nueces de árbol (almendras)']
    """
    return may_names((k for k in keys if SOURCES[k.partition(":")[0]][0]), language)


def may_names(keys: Iterable[str], language: str = "en") -> list[str]:
    """The same of any source, for what may be in it: US law sets no list of these.

    >>> may_names(("sesame", "celery"))
    ['sesame', 'celery']
    """
    kinds: dict[str, list[str]] = {}
    for key in keys:
        source, _, kind = key.partition(":")
        named = kind_named(key, language) or kind.strip()
        kinds.setdefault(source, []).extend([named] if kind else [])
    names = []
    for source, found in kinds.items():
        us, *others = SOURCES[source]
        name = (language == "en" and us) or others[LANGUAGES.index(language)]
        names.append(f"{name} ({', '.join(dict.fromkeys(found))})" if found else name)
    return names


def eu_names(keys: Iterable[str], language: str) -> list[str]:
    """The sources as Annex II names them, each once: nuts one by one, fish as fish.

    >>> eu_names(("soy", "tree-nut:almond", "fish:cod", "fish:anchovy"), "en")
    ['soya', 'almond', 'fish']
    >>> eu_names(("tree-nut:almond",), "de")
    ['Mandeln']
    """
    names = []
    for key in keys:
        source, _, kind = key.partition(":")
        named = kind_named(key, language) or kind.strip()
        listed = SOURCES[source][1 + LANGUAGES.index(language)]
        names.append(named if source == "tree-nut" else listed)
    return list(dict.fromkeys(names))


def said_by_name(key: str, name: str) -> bool:
    """Whether the name of an ingredient, or of the food, already names the source.

    EU 1169/2011 Art. 21(1): by a clear reference to what Annex II calls it.

    >>> said_by_name("soy", "Soybeans"), said_by_name("wheat", "seitan")
    (True, False)
    >>> said_by_name("tree-nut:almond", "walnuts"), said_by_name("fish:cod", "cod")
    (False, False)
    >>> said_by_name("milk", "coconut milk powder"), said_by_name("soy", "soy milk")
    (False, True)
    >>> said_by_name("tree-nut:almond", "Mandelmus"), said_by_name("tree-nut:walnut", "nueces")
    (False, True)
    >>> said_by_name("tree-nut:walnut", "noix de cajou")
    False
    """
    source, _, kind = key.partition(":")
    words = re.sub(_PLANT_MILK, r"\1", name.casefold())
    if source == "tree-nut":
        named = {n.casefold() for n in (*_kind_row(key), kind.strip())}
        # "noix" and "nueces" are the walnut where nothing says of what
        return any(re.search(rf"{re.escape(n)}(?! d[eu’'])", words) for n in named)
    return re.search(_SAYS[source], words) is not None
