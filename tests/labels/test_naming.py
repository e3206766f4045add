"""What a name says of allergens: 21 USC 321(qq), 343(w); Regulation (EU) 1169/2011 Annex II.

The names of the sources are those of Annex II by language; what foods are made of, and what is only
called so, is from memory.
"""

from __future__ import annotations

import pytest

from labels.allergens import KIND_NAMES, SOURCES, kind_named
from labels.naming import suspected, unsaid

SAID = {
    "wheat": "Wheat flour|flour of wheat|Seitan|Breadcrumbs|Udon noodles|harina de trigo|sémola|"
    "Weizenmehl|Dinkel|Paniermehl|farine de blé|Froment|semoule|farina di frumento|tarwebloem|"
    "farinha de trigo|小麦粉|面筋|bột mì|vital gluten",
    "wheat soy": "Soy sauce|shoyu|teriyaki|salsa de soja|salsa de soya|Sojasauce|Sojasoße|"
    "sauce soja|sauce de soja|salsa di soia|sojasaus|酱油|醬油|nước tương",
    "soy": "Soybeans|soya|tofu|Soy milk|Okara|miso|tamari|bean curd|Sojabohnen|Sojamilch|graines de "
    "soja|lait de soja|habas de soja|leche de soya|semi di soia|latte di soia|sojamelk|豆浆|大豆|"
    "đậu nành|sữa đậu nành|soy lecithin|lecithin|Soja-Eiweiß|soy flour|s\u00adoybeans",
    "sesame": "Sesame oil|TAHINI|gomasio|sésamo|ajonjolí|Sesamöl|graines de sésame|semi di sesamo|"
    "sesamzaad|芝麻油|dầu mè|black sesame",
    "peanut": "Peanut sauce|Peanut butter|refined peanut oil|maní|cacahuate|cacahuete|mantequilla "
    "de maní|Erdnussbutter|Erdnüsse|beurre de cacahuète|arachides|burro di arachidi|pindakaas|"
    "aardnoten|花生|đậu phộng|satay",
    "milk": "Milk|cream cheese|whey powder|leche en polvo|mantequilla|queso|suero de leche|Milch|"
    "Sahne|Käse|Molke|lait|beurre|crème|fromage|panna|burro|formaggio|melk|karnemelk|kaas|"
    "leite|牛奶|奶粉|phô mai|goat milk",
    "egg": "Egg white|mayonnaise|huevos|Eier|Eigelb|Vollei|œufs|oeuf|uova|eieren|ovos|鸡蛋|trứng",
    "fish": "Fish sauce|surimi|anchovies|bonito flakes|pescado|atún|Fischsauce|Sardellen|poisson|"
    "thon|pesce|acciughe|vissaus|ansjovis|鱼露|nước mắm|swordfish",
    "crustacean": "dried shrimp|crab paste|shellfish|camarones|marisco|Garnelen|Krebstiere|crevettes|"
    "gamberetti|garnalen|虾米|tôm",
    "tree-nut:almond": "almond milk|almendras|Mandeln|Mandelmus|lait d’amande|amandes|mandorle|"
    "amandelen|杏仁|marzipan",
    "tree-nut:cashew": "cashew cream|anacardos|腰果|hạt điều",
    "tree-nut": "mixed nuts|nueces|noix|noci|praline",
    "": "Eggplant|nutmeg|butternut squash|coconut milk|cocoa butter|buckwheat|buckwheat flour|rice "
    "flour|rice noodles|oat drink|Water|Calcium Sulfate|nigari|ginger|five-spice|canola oil|"
    "sunflower lecithin|shea butter|cream of tartar|lactic acid|butter beans|leche de coco|nuez "
    "moscada|trigo sarraceno|manteca de cacao|Kokosmilch|Kakaobutter|Buchweizenmehl|Muskatnuss|"
    "Milchsäure|Reismehl|Kokosnuss|noix de coco|noix de muscade|blé noir|beurre de cacao|lait de "
    "coco|latte di cocco|noce moscata|grano saraceno|burro di cacao|kokosmelk|nootmuskaat|"
    "cacaoboter|鱼香|cà chua|gluten-free|sin gluten|glutenfrei|dairy-free|doughnut mix|maltodextrin",
}  # fmt: skip
CASES = [(name, said) for said, names in SAID.items() for name in names.split("|")]


@pytest.mark.parametrize(("name", "said"), CASES)
def test_a_name_says_the_allergens_that_are_in_such_a_food(name: str, said: str) -> None:
    found = [k for k in suspected(name) if k not in ("oats",)]
    if said == "tree-nut":
        found = [k.partition(":")[0] for k in found][:1]
    elif said.startswith("tree-nut:"):
        found = [k for k in found if k != "tree-nut"]  # "hạt điều" may be a nut of any kind
    assert " ".join(found) == said


# One food at least of each source in each language; from memory, as the table is.
BY_LANGUAGE = {
    "milk": "requesón|babeurre|lattosio|iogurte|Schmand|weipoeder|黄油|sữa chua",
    "egg": "merengue|œuf dur|maionese|ovo|Hühnerei|kippenei|蛋黄|trứng muối",
    "fish": "merluza|cabillaud|sgombro|bacalhau|Forelle|makreel|鱼片|cá hồi",
    "crustacean": "langosta|homard|granchi|camarão|caranguejo|Hummer|kreeft|螃蟹|ghẹ",
    "tree-nut": "frutos secos|noix|frutta a guscio|noz|Krokant|noten|坚果|các loại hạt",
    "tree-nut:almond": "mazapán|massepain|marzapane|amêndoas|Mandeln|amandelen|扁桃仁|hạnh nhân",
    "tree-nut:hazelnut": "avellanas|noisettes|nocciole|avelã|Haselnüsse|hazelnoten|榛子|hạt phỉ",
    "tree-nut:walnut": "walnuts|Walnüsse|walnoten|核桃|óc chó",
    "tree-nut:cashew": "marañón|cajou|anacardi|caju|Kaschukerne|腰果|hạt điều",
    "tree-nut:pecan": "pecans|pacanas|Pekannuss|碧根果|hồ đào",
    "tree-nut:Brazil nut": "Brazil nuts|Paranuss|paranoten|hạt Brazil",
    "tree-nut:pistachio": "pistachos|pistaches|pistacchi|Pistazien|开心果|hạt dẻ cười",
    "tree-nut:macadamia": "Queensland nut|夏威夷果|mắc ca",
    "tree-nut:pine nut": "piñones|pignons|Pinienkerne|松仁|hạt thông",
    "wheat": "espelta|épeautre|pangrattato|farinha|Grünkern|griesmeel|面包|mì căn",
    "peanut": "cacahuete|cacahouètes|arachidi|amendoim|Erdnuss|pinda|花生|lạc",
    "soy": "lecitina|lécithine|soia|Lezithin|腐竹|tàu hũ",
    "sesame": "ajonjolí|sésame|gergelim|Sesam|麻酱|vừng",
    "rye": "rye|centeno|seigle|segale|centeio|Roggen|roggebrood|黑麦|lúa mạch đen",
    "barley": "malted barley|cebada|orge|orzo|cevada|Gerste|mout|大麦|mạch nha",
    "oats": "oatmeal|avena|avoine|aveia|Hafer|haver|燕麦|yến mạch",
    "celery": "celeriac|apio|céleri|sedano|aipo|Sellerie|selderij|芹菜|cần tây",
    "mustard": "Dijon|mostaza|moutarde|senape|mostarda|Senf|mosterd|芥末|mù tạt",
    "sulphites": "E 220|bisulfito|anhydride sulfureux|solfiti|Schwefeldioxid|sulfiet|亚硫酸|sulfit",
    "lupin": "lupine|altramuces|lupini|tremoço|Lupine|羽扇豆",
    "mollusc": "clams|almejas|moules|vongole|lulas|Muscheln|mosselen|蚬|nghêu",
}


@pytest.mark.parametrize(
    ("key", "name"), [(key, n) for key, names in BY_LANGUAGE.items() for n in names.split("|")]
)
def test_a_source_is_known_by_a_food_in_each_language(key: str, name: str) -> None:
    assert key in suspected(name)


NAMED = [(key, name) for key, row in SOURCES.items() for name in row[1:]]
NAMED += [("tree-nut", name) for row in KIND_NAMES["tree-nut"] for name in row]


NUTS = {  # Regulation (EU) 1169/2011 Annex II no. 8, in English, German and French
    "almond": ("Mandeln", "amandes"), "hazelnut": ("Haselnüsse", "noisettes"),
    "walnut": ("Walnüsse", "noix"), "cashew": ("Kaschunüsse", "noix de cajou"),
    "pecan": ("Pecannüsse", "noix de pécan"), "Brazil nut": ("Paranüsse", "noix du Brésil"),
    "pistachio": ("Pistazien", "pistaches"),
    "macadamia": ("Macadamianüsse", "noix de Macadamia"),
}  # fmt: skip


@pytest.mark.parametrize("nut", NUTS)
def test_each_nut_of_the_regulation_has_its_name(nut: str) -> None:
    assert (kind_named(f"tree-nut:{nut}", "de"), kind_named(f"tree-nut:{nut}", "fr")) == NUTS[nut]
    assert kind_named(f"tree-nut:{NUTS[nut][0]}", "en") == nut


@pytest.mark.parametrize(("source", "name"), NAMED)
def test_a_source_is_known_by_what_labels_call_it_in_each_language(source: str, name: str) -> None:
    # Annex II and 21 USC 321(qq), in every language that a label can speak.
    assert source in [key.partition(":")[0] for key in suspected(name)]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("香油", "sesame"), ("麻油", "sesame"), ("豉油", "wheat soy"), ("豆瓣酱", "soy"),
        ("蛋清", "egg"), ("蚝油", "mollusc"), ("松子", "tree-nut:pine nut"), ("dầu hào", "mollusc"),
        ("mắm", "fish"), ("Belacan", "crustacean"), ("wheatflour", "wheat"), ("matzo", "wheat"),
        ("soysauce", "soy"), ("Cashewkerne", "tree-nut:cashew"), ("螺旋藻", ""), ("蛋白质", ""),
    ],
)  # fmt: skip
def test_what_a_kitchen_calls_it_says_it_too(name: str, said: str) -> None:
    assert " ".join(suspected(name)) == said


def test_a_nut_is_named_by_its_kind_in_any_language() -> None:
    # 21 USC 343(w)(2): the specific nut is named.
    assert unsaid(["Almond paste"], ["tree-nut:walnut"], "us") == ("tree-nut:almond",)
    assert unsaid(["Mandelmus"], ["tree-nut:almond"], "us") == ()
    assert unsaid(["Almond paste"], ["tree-nut:amandes"], "eu") == ()
    assert unsaid(["mixed nuts"], ["tree-nut:walnut"], "us") == ()


def test_only_what_the_law_of_the_market_lists_is_asked_for() -> None:
    # Annex II lists celery and rye; 21 USC 321(qq) does not.
    assert unsaid(["celery and rye"], [], "us") == ()
    assert unsaid(["celery and rye"], [], "eu") == ("rye", "celery")
    # 21 CFR 101.100(a)(4): sulfites from 10 mg/kg, a processing aid's too
    assert unsaid(["Sodium Metabisulfite"], [], "us") == ("sulphites",)
    assert unsaid(["Sodium Metabisulfite"], ["sulphites"], "us") == ()
