"""What the name of a food says of what is in it: "tahini" says sesame, "Weizenmehl" wheat.

21 USC 343(w) and Regulation (EU) 1169/2011 Art. 21 ask for the source of an allergen whatever the
food is called. A name is a reason to ask for it; only a person can say that it is not in there.

The words are from memory, those of the sources themselves from Annex II in the languages of the
Union: a native reader should check them. They are regular expressions on text in small letters,
most without accents. All languages are looked at for every name.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache

from labels.allergens import SOURCES

# What stands before and behind a word. German and Dutch write words together, Chinese all of them.
_EDGES = {
    "en": (r"\b", r"(?:e?s)?\b"),
    "es": (r"\b", r"(?:e?s)?\b"),
    "fr": (r"\b", r"[sx]?\b"),
    "pt": (r"\b", r"(?:e?s)?\b"),
    "it": (r"\b", r"\b"),
    "vi": (r"\b", r"\b"),
    "de": ("", ""),
    "nl": ("", ""),
    "zh": ("", ""),
}
_WORDS = {
    "en": {
        "milk": "milk|butter|buttermilk|cream|creamer|cheese|yogh?urt|whey|casein|caseinate|"
        "lactose|ghee|kefir|paneer|ricotta|mozzarella|parmesan|custard|dairy|latte",
        "egg": "egg|albumen|albumin|mayonnaise|mayo|meringue|aioli",
        "fish": r"\w*fish|anchov(?:y|ie)|tuna|salmon|cod|bonito|katsuobushi|sardine|mackerel|"
        r"herring|haddock|pollock|tilapia|trout|bass|flounder|eel|\w*dashi|surimi|worcestershire|"
        "caviar|roe|nam pla|nuoc mam|garum|colatura",
        "crustacean": "crustacean|shellfish|shrimp|prawn|crab|lobster|crayfish|crawfish|krill|"
        "langoustine|scampi|belacan|terasi",
        "tree-nut": "nut|praline|nougat|gianduja",
        "tree-nut:almond": "almond|marzipan|frangipane",
        "tree-nut:hazelnut": "hazelnut|filbert",
        "tree-nut:walnut": "walnut",
        "tree-nut:cashew": "cashew",
        "tree-nut:pecan": "pecan",
        "tree-nut:Brazil nut": "brazil nut",
        "tree-nut:pistachio": "pistachio",
        "tree-nut:macadamia": "macadamia|queensland nut",
        "tree-nut:pine nut": "pine ?nut|pinon",
        "wheat": r"wheat\w*|matzoh?|freekeh|wholewheat|flour|seitan|bulgh?ur|couscous|semolina|"
        "durum|spelt|farro|kamut|einkorn|emmer|triticale|gluten|panko|bread|breaded|breadcrumb|batter|"
        "battered|tempura|cracker|noodle|udon|somen|ramen|wonton|pasta|filo|phyllo|soya? sauce|"
        "shoyu|hoisin|teriyaki|ponzu",
        "peanut": "peanut|groundnut|ground nut|satay|arachis",
        "soy": r"soy\w*|tofu|bean ?curd|tempeh|edamame|miso|okara|tamari|shoyu|"
        "natto|yuba|kinako|douchi|hoisin|teriyaki|ponzu|doubanjiang|gochujang|doenjang|tvp|"
        "textured vegetable protein|lecithin",
        "sesame": "sesame|tahini?|tahina|hummus|houmous|halvah?|gomash?io|benne|furikake|za'?atar",
        "rye": "rye",
        "barley": "barley|malt|malted|beer",
        "oats": "oat|oatmeal|porridge",
        "celery": "celery|celeriac",
        "mustard": "mustard|dijon",
        "sulphites": r"\w*sul(?:f|ph)ite|sul(?:f|ph)ur dioxide|e ?22[0-8]",
        "lupin": "lupine?",
        "mollusc": "mollus[ck]|clam|oyster|mussel|squid|octopus|cuttlefish|scallop|abalone|"
        "calamari|snail|escargot|whelk",
    },
    "es": {
        "milk": "leche|lacteo|mantequilla|nata|crema|queso|requeson|yogur|caseina|lactosa|"
        "suero de leche",
        "egg": "huevo|mayonesa|merengue",
        "fish": "pescado|lubina|abadejo|platija|atun|anchoa|boqueron|bacalao|salmon|sardina|"
        "merluza|caballa|arenque",
        "crustacean": "crustaceo|marisco|camaron|gamba|langostino|cangrejo|langosta",
        "tree-nut": "nuez|nuec|frutos de cascara|frutos secos",
        "tree-nut:almond": "almendra|mazapan|turron",
        "tree-nut:hazelnut": "avellana",
        "tree-nut:cashew": "anacardo|maranon",
        "tree-nut:pecan": "pacana",
        "tree-nut:pistachio": "pistacho|alfoncigo",
        "tree-nut:pine nut": "pinon",
        "wheat": "trigo|harina|semola|espelta|cuscus|fideo|empanizado|rebozado|"
        "pan (?:rallado|molido|integral)|salsa de so[yj]a",
        "peanut": "cacahu[ae]te|mani",
        "soy": "soja|lecitina",
        "sesame": "sesamo|ajonjoli",
        "rye": "centeno",
        "barley": "cebada|malta",
        "oats": "avena",
        "celery": "apio",
        "mustard": "mostaza",
        "sulphites": r"\w*sulfito|dioxido de azufre",
        "lupin": "altramu[zc]",
        "mollusc": "molusco|almeja|mejillon|ostra|pulpo|calamar|sepia|vieira",
    },
    "fr": {
        "milk": "lait|lactoserum|beurre|creme|fromage|yaourt|caseine|babeurre",
        "egg": "oeuf",
        "fish": "poisson|bonite|thon|anchois|saumon|morue|cabillaud|sardine|hareng|maquereau",
        "crustacean": r"crustace|crevette|crabe|homard|ecrevisse|langoust\w+",
        "tree-nut": "noix|fruits? a coque|praline",
        "tree-nut:almond": "amande|massepain",
        "tree-nut:hazelnut": "noisette",
        "tree-nut:cashew": "cajou",
        "tree-nut:pistachio": "pistache",
        "tree-nut:pine nut": "pignon",
        "wheat": "ble|froment|farine|semoule|epeautre|chapelure|pain|boulgour|sauce (?:de )?soja",
        "peanut": "cacahuete|cacahouete|arachide",
        "soy": "soja|lecithine",
        "sesame": "sesame",
        "rye": "seigle",
        "barley": "orge",
        "oats": "avoine",
        "celery": "celeri",
        "mustard": "moutarde",
        "sulphites": r"\w*sulfite|anhydride sulfureux|dioxyde de soufre",
        "mollusc": "mollusque|moules|huitre|palourde|seiche|calmar|poulpe",
    },
    "it": {
        "milk": "burro|panna|formaggio|latticello|siero di latte|lattosio|caseina",
        "egg": "uov[oa]|maionese",
        "fish": "pesc[ei]|tonno|acciug(?:a|he)|alici|salmone|merluzzo|sgombro|aring(?:a|he)",
        "crustacean": r"crostace\w+|gamber\w+|granchi\w*|aragost[ae]",
        "tree-nut": "noc[ei]|frutta a guscio",
        "tree-nut:almond": "mandorl[ae]|marzapane",
        "tree-nut:hazelnut": "nocciol[ae]",
        "tree-nut:cashew": "anacardi|acagiu",
        "tree-nut:pistachio": "pistacchio?",
        "wheat": "frumento|grano (?:tenero|duro)|farin[ae]|semola|glutine|pangrattato|pane|"
        "salsa di soia",
        "peanut": "arachid[ei]",
        "soy": "soia|lecitina",
        "rye": "segale",
        "barley": "orzo|malto",
        "celery": "sedano",
        "mustard": "senape",
        "sulphites": r"\w*solfit[oi]|anidride solforosa",
        "lupin": "lupin[oi]",
        "mollusc": r"mollusc\w+|vongol[ae]|cozz[ae]|seppi[ae]|polp[oi]|calamar[oi]|ostric\w+",
    },
    "pt": {
        "milk": "leite|manteiga|queijo|iogurte",
        "egg": "ovo",
        "fish": "peixe|atum|anchova|bacalhau|salmao|sardinha",
        "crustacean": "camarao|camaro|caranguejo|lagosta",
        "tree-nut": "noz|noze|frutos de casca rija",
        "tree-nut:almond": "amendoa",
        "tree-nut:hazelnut": "avela",
        "tree-nut:cashew": "caju",
        "wheat": "farinha|molho de soja",
        "peanut": "amendoi[mn]",
        "sesame": "gergelim",
        "rye": "centeio",
        "barley": "cevada|malte",
        "oats": "aveia",
        "celery": "aipo",
        "mustard": "mostarda",
        "lupin": "tremoco",
        "mollusc": "ameijoa|mexilhao|mexilhoe|lula",
    },
    "de": {
        "milk": r"milch|butter|sahne|\brahm|kase\b|kasein|joghurt|molke|\bquark|laktose|schmand",
        "egg": r"\bei\b|\beier|\beigelb|\beiweiss|vollei|huhnerei|\beipulver",
        "fish": "fisch|barsch|flunder|pollack|sardelle|lachs|kabeljau|hering|makrele|forelle",
        "crustacean": "krebs|garnele|krabbe|hummer",
        "tree-nut": "nuss|schalenfruchte|krokant",
        "tree-nut:almond": "mandel",
        "tree-nut:hazelnut": "haselnuss",
        "tree-nut:walnut": "walnuss",
        "tree-nut:cashew": "kaschu|cashew",
        "tree-nut:pecan": "pekan",
        "tree-nut:Brazil nut": "paranuss",
        "tree-nut:pistachio": "pistazie",
        "tree-nut:pine nut": "pinienkern",
        "wheat": r"weizen|\bmehl\b|paniermehl|dinkel|griess|grunkern|semmelbrosel|brot\b|nudel|"
        r"sojasau?ce|sojasosse",
        "peanut": "erdnuss",
        "soy": "soja|lezithin",
        "sesame": "sesam",
        "rye": "roggen",
        "barley": r"gerste|malz|\bbier",
        "oats": "hafer",
        "celery": "sellerie",
        "mustard": "senf",
        "sulphites": "sulfit|schwefeldioxid",
        "lupin": "lupine",
        "mollusc": "weichtier|muschel|auster|tintenfisch|schnecke",
    },
    "nl": {
        "milk": r"melk|boter|\broom\b|slagroom|kaas|\bwei\b|weipoeder|caseine",
        "egg": r"\beieren|\beidooier|\beigeel|\beiwit|kippenei",
        "fish": r"\bvis\b|vissaus|visbouillon|vismeel|tonijn|ansjovis|zalm|haring|makreel",
        "crustacean": "schaaldier|garna(?:al|len)|krab|kreeft",
        "tree-nut": r"\bno(?:ot|ten)\b|walno|hazelno|parano",
        "tree-nut:almond": "amandel",
        "tree-nut:hazelnut": "hazelno",
        "tree-nut:walnut": "walno",
        "tree-nut:Brazil nut": "parano",
        "wheat": r"tarwe|\bbloem\b|\bmeel\b|griesmeel|paneermeel|brood\b|noedel|sojasaus",
        "peanut": "pinda|aardno",
        "rye": "rogge",
        "barley": r"gerst|\bmout",
        "oats": "haver",
        "celery": "selder",
        "mustard": "mosterd",
        "sulphites": "sulfiet|zwaveldioxide",
        "mollusc": "weekdier|mossel|oester|inktvis",
    },
    "zh": {
        "milk": "牛奶|牛乳|奶粉|奶油|黄油|黃油|奶酪|乳酪|芝士|酸奶|乳清|[炼煉][乳奶]",
        "egg": "蛋(?!白[质質])|卵",
        "fish": "鱼|魚|狭鳕",
        "crustacean": "虾|蝦|蟹|甲壳类",
        "tree-nut": "坚果|堅果",
        "tree-nut:almond": "杏仁|扁桃仁",
        "tree-nut:hazelnut": "榛",
        "tree-nut:walnut": "核桃",
        "tree-nut:cashew": "腰果",
        "tree-nut:pecan": "碧根果",
        "tree-nut:pistachio": "开心果|開心果",
        "tree-nut:macadamia": "夏威夷果",
        "tree-nut:pine nut": "松子|松仁",
        "wheat": "小麦|小麥|面粉|麵粉|面筋|麵筋|面包|麵包|面条|麵條|麸|麩|[酱醬醤]油|"
        "豉油|生抽|老抽",
        "peanut": "花生",
        "soy": "大豆|黄豆|黃豆|毛豆|豆腐|豆浆|豆漿|豆乳|豆花|豆干|豆皮|豆渣|腐竹|味噌|[酱醬醤]油|"
        "生抽|老抽|豉|豆瓣|腐皮|腐乳",
        "sesame": "芝麻|胡麻|麻酱|麻醬|麻油|香油",
        "rye": "黑麦|黑麥",
        "barley": "大麦|大麥|麦芽|麥芽",
        "oats": "燕麦|燕麥",
        "celery": "芹菜",
        "mustard": "芥末|芥子",
        "sulphites": "亚硫酸|亞硫酸|二氧化硫",
        "lupin": "羽扇豆",
        "mollusc": "软体动物|軟體動物|[蚝蠔蛤蚬蜆贝貝]|螺(?!旋)|[鱿魷墨章鲍鮑][鱼魚]",
    },
    "vi": {
        "milk": "sữa|phô mai",
        "egg": "trứng",
        "fish": "cá|mắm",
        "crustacean": "tôm|mắm ruốc|cua|ghẹ|giáp xác",
        "tree-nut": "các loại hạt",
        "tree-nut:almond": "hạnh nhân",
        "tree-nut:hazelnut": "hạt phỉ",
        "tree-nut:walnut": "óc chó",
        "tree-nut:cashew": "hạt điều",
        "tree-nut:pecan": "hồ đào",
        "tree-nut:Brazil nut": "hạt brazil",
        "tree-nut:pine nut": "hạt thông",
        "tree-nut:pistachio": "hạt dẻ cười",
        "tree-nut:macadamia": "mắc ca",
        "wheat": "lúa mì|bột mì|mì căn|nước tương|xì dầu",
        "peanut": "đậu phộng|lạc",
        "soy": "đậu nành|đậu phụ|đậu hũ|tàu hũ|tào phớ|nước tương|tương (?:hột|bần|đen)|xì dầu",
        "sesame": "mè|vừng",
        "rye": "lúa mạch đen",
        "barley": "lúa mạch(?! đen)|mạch nha",
        "oats": "yến mạch",
        "celery": "cần tây",
        "mustard": "mù tạt",
        "sulphites": "sulfit",
        "mollusc": "nhuyễn thể|dầu hào|hàu|mực|nghêu|sò|ốc",
    },
}
# Named after what they look like: "soy milk" is of soy, "rice flour" of rice. The plant stays.
_PLANTS = (
    r"so[yji]a|soy(?:bean)?|tofu|coconut|kokos(?:nuss|noot)?|coc+o|almond|mandel|amande|almendra|"
    r"mandorl[ae]|amandel|amendoa|oat|hafer|avena|avoine|haver|aveia|rice|reis|arroz|riz|riso|rijst|"
    r"cocoa|cacao|cacau|kakao|peanut|erdnuss|cacahu[ae]te|mani|arachid[ei]s?|pinda|amendoim|nut|"
    r"nuss|noten|cashew|kaschu|anacardo|cajou|hazelnut|haselnuss|walnut|pistachio|sesame?|sesamo|"
    r"tahini?|hemp|hanf|pea|chickpea|garbanzo|corn|maize?|mais|maiz|potato|kartoffel|tapioca|"
    r"cassava|yuca|buckwheat|buchweizen|quinoa|millet|hirse|sorghum|teff|lentil|bean|flax|shea|"
    r"karite|sunflower|sonnenblumen?|tournesol|girasole?|rapeseed|canola|raps|colza|pumpkin|lupine?|rye|barley|mung|"
    r"glass|glas"
)
_LIKENESS = (
    "milk|buttermilk|cream|creamer|butter|cheese|yogh?urt|flour|noodle|pasta|milch|sahne|kase|"
    "joghurt|quark|mehl|griess|nudel|leche|crema|nata|mantequilla|queso|yogur|harina|fideo|lait|"
    "creme|beurre|fromage|yaourt|farine|semoule|latte|panna|burro|formaggio|farina|semola|leite|"
    "manteiga|queijo|farinha|melk|room|boter|kaas|bloem|meel|noedel|lecithine?|lezithin|lecitina"
)
_LIKE = (
    rf"\b(?P<first>{_PLANTS})(?:e?s|n)?[ -]?(?:based )?(?:{_LIKENESS})(?:e?s|n)?\b"
    rf"|\b(?:{_LIKENESS})s? (?:vegetal(?:e|es)? )?"
    rf"(?:de |d'|di |del |dell'|do |da |al |alla |au |a la |van )(?P<then>{_PLANTS})s?\b"
)
_FREE = (  # "gluten-free" says that there is none
    r"\b\w+[ -](?:free|frei)\b|\b\w+frei(?:e[rs]?)?\b|"
    r"\b(?:free (?:of|from)|without|no|sin|sans|ohne|senza|sem|zonder) \w+"
)
# Other things that are called so.
_NOT = {
    "milk": r"milk thistle|milkfish|cream of tartar|cremor tartaro|cream soda|peanut butter|"
    r"butter ?(?:bean|nut|lettuce|fl[yi])\w*|milchsaure|buttersaure|melkzuur|sữa (?:đậu|dừa)[ \w]*",
    "egg": r"egg ?plant|(?:soja|erbsen|weizen|erwten|tarwe|plantaardige?)[ -]?ei(?:weiss|wit)\w*",
    "fish": r"(?:shell|cray|craw|cuttle|jelly|star)fish|tintenfisch\w*|[鱿魷墨章鲍鮑][鱼魚]|"
    r"[鱼魚][腥香]\w?",
    "crustacean": r"crab ?apple",
    "tree-nut": r"tiger ?nut|ground nut|(?:erd|kokos|muskat)nuss\w*|nootmuskaat|muskaatnoot|"
    r"(?:kokos|aard)no\w+|noix (?:de )?(?:muscade|coco)|nu(?:ez|eces) (?:moscadas?|de coco)|"
    r"noc[ei] (?:moscat[ae]|di cocco)|noz moscada",
    "wheat": r"buckwheat|buchweizen\w*|trigo (?:sarraceno|mourisco)|ble noir|grano saraceno|"
    r"mais-?griess",
    "barley": r"(?:ginger|root) beer",
    "mollusc": r"oyster mushroom|austernpilz\w*|oesterzwam\w*",
}


def plain(text: str) -> str:
    """A text in small letters and without accents, to be looked through.

    >>> plain("Crème d’ÉPEAUTRE, Weißei")
    "creme d'epeautre, weissei"
    """
    bare = unicodedata.normalize("NFD", _small(text).replace("’", "'").replace("œ", "oe"))
    return "".join(c for c in bare if not unicodedata.combining(c))


def _small(text: str) -> str:
    """In small letters; wide letters as usual ones, nothing that cannot be seen."""
    shown = "".join(
        c for c in unicodedata.normalize("NFKC", text) if unicodedata.category(c) != "Cf"
    )
    return " ".join(shown.replace("_", " ").split()).casefold()


@cache
def _patterns() -> tuple[dict[str, re.Pattern[str]], dict[str, re.Pattern[str]]]:
    """For text without accents, and for Vietnamese, which is told apart by its accents."""
    found: tuple[dict[str, list[str]], dict[str, list[str]]] = {}, {}
    for language, words in _WORDS.items():
        before, behind = _EDGES[language]
        for key, several in words.items():
            found[language == "vi"].setdefault(key, []).append(f"{before}(?:{several}){behind}")
    bare, accented = ({k: re.compile("|".join(v)) for k, v in one.items()} for one in found)
    return bare, accented


@lru_cache(4096)
def suspected(name: str) -> tuple[str, ...]:
    """Source keys that a name says, with the nut where it says which.

    >>> suspected("Sesame Oil"), suspected("Weizenmehl"), suspected("salsa de soya")
    (('sesame',), ('wheat',), ('wheat', 'soy'))
    >>> suspected("Soy Milk"), suspected("Peanut butter"), suspected("Buckwheat flour")
    (('soy',), ('peanut',), ())
    >>> suspected("almond milk"), suspected("Eggplant with nutmeg and coconut milk")
    (('tree-nut:almond',), ())
    """
    bare = re.sub(_LIKE, lambda m: m["first"] or m["then"], re.sub(_FREE, " ", plain(name)))
    found = set()
    for text, patterns in zip((bare, _small(name)), _patterns(), strict=True):
        for key, pattern in patterns.items():
            other = _NOT.get(key.partition(":")[0])
            if pattern.search(re.sub(other, " ", text) if other else text):
                found.add(key)
    return tuple(sorted(found, key=lambda k: (list(SOURCES).index(k.partition(":")[0]), k)))


def unsaid(names: Iterable[str], known: Iterable[str], market: str) -> tuple[str, ...]:
    """Source keys that the names say and ``known`` does not name, of those the market's law lists.

    ``known`` may hold a source without its kind: somebody said that it is not in there.

    >>> unsaid(["Almond paste"], ["tree-nut:walnut"], "us"), unsaid(["Rye"], [], "us")
    (('tree-nut:almond',), ())
    >>> unsaid(["Mandelmus"], ["tree-nut:Mandeln"], "eu"), unsaid(["Peanut oil"], ["peanut"], "us")
    ((), ())
    """
    listed = (k for name in names for k in suspected(name) if market != "us" or _of_us(k))
    known = tuple(known)
    return tuple(k for k in dict.fromkeys(listed) if not any(_names(one, k) for one in known))


def _of_us(key: str) -> bool:
    """Of the nine, or sulfites, which are listed from 10 mg/kg (21 CFR 101.100(a)(4))."""
    return key == "sulphites" or bool(SOURCES[key.partition(":")[0]][0])


def _names(known: str, key: str) -> bool:
    """Whether a source key that is known names the one that a name says."""
    source, _, kind = known.partition(":")
    wanted, _, of = key.partition(":")
    return source == wanted and (not kind or not of or key in (known, *suspected(kind)))
