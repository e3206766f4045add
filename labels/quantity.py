"""Net quantity in words, in two systems of units, never more than is there.

Converted values are rounded down: "In no case shall rounded net contents declarations overstate a
quantity; the packer may round converted values down" (NIST Handbook 130, UPLR). Metric figures
keep three digits, two below 100 (16 CFR 500.19).
"""

from __future__ import annotations

from decimal import ROUND_DOWN, Decimal

from labels.errors import BadValue
from labels.facts import NetQuantity
from labels.say import say
from labels.units import GRAMS, MILLILITRES

_OZ, _LB = GRAMS["oz"], GRAMS["lb"]
_FL_OZ = MILLILITRES["fl oz"]
# fluid ounces in each of the larger units, greatest first
_FLUID = (("GAL", 128), ("QT", 32), ("PT", 16))
_HUNDREDTH = Decimal("0.01")
_NOTHING = Decimal("0.000001")  # what a division of exact factors leaves in the last place


def digits_down(value: Decimal, digits: int, most_places: int = 2) -> Decimal:
    """``value`` cut, never raised, to ``digits`` significant digits and at most ``most_places``.

    A whole part is never cut. Zeros at the end are dropped.

    >>> [str(digits_down(Decimal(v), 3)) for v in ("17.637", "396.89", "1.36078", "0.8765")]
    ['17.6', '396', '1.36', '0.87']
    """
    places = max(0, min(digits - max(value.adjusted() + 1, 0), most_places))
    return plain(value.quantize(Decimal(1).scaleb(-places), ROUND_DOWN))


def plain(value: Decimal) -> Decimal:
    """Without zeros at the end and without an exponent."""
    short = value.normalize()
    return short.quantize(Decimal(1)) if short == short.to_integral_value() else short


def metric(value: Decimal, small: str, large: str) -> str:
    """Grams or millilitres: whole ones as they are, others cut; from 1,000 in the larger unit.

    >>> metric(Decimal("396.893"), "g", "kg"), metric(Decimal(1250), "g", "kg")
    ('396 g', '1.25 kg')
    >>> metric(Decimal("2494.758"), "g", "kg"), metric(Decimal("42.52"), "g", "kg")
    ('2.49 kg', '42 g')
    """
    whole = value == value.to_integral_value()
    if value >= 1000:
        figure = value / 1000
        return f"{plain(figure) if whole else digits_down(figure, 3)} {large}"
    if whole or value >= 10:
        return f"{digits_down(value, 3, 0)} {small}"
    return f"{digits_down(value, 2, 1)} {small}"


def ounces(value: Decimal) -> Decimal:
    """A number of ounces, cut to three digits, unless two decimals say it exactly.

    Raises BadValue for less than a hundredth: rounded down, nothing would be left.

    >>> ounces(Decimal("14.25")), ounces(Decimal("14.1096")), ounces(Decimal("13.9999999"))
    (Decimal('14.25'), Decimal('14.1'), Decimal('14'))
    """
    if value < _HUNDREDTH:
        why = say("it is less than a hundredth of an ounce")
        raise BadValue(say("state the net quantity in ounces"), why, say("Sell more of it at once"))
    near = value.quantize(_HUNDREDTH)
    if abs(near - value) < _NOTHING:
        return plain(near)
    return digits_down(value, 3)


def us_weight(grams: Decimal) -> str:
    """``NET WT`` in ounces and grams; from 1 lb also in pounds, from 4 lb in pounds alone.

    21 CFR 101.7(j)(1), (j)(3), 15 USC 1453(a)(2) and (3)(A)(i).

    >>> us_weight(14 * GRAMS["oz"]), us_weight(16 * GRAMS["oz"])
    ('NET WT 14 OZ (396 g)', 'NET WT 16 OZ (1 LB) 453 g')
    """
    total = ounces(grams / _OZ)
    si = metric(grams, "g", "kg")
    if total < 16:
        return f"NET WT {total} OZ ({si})"
    pounds, rest = divmod(total, 16)
    split = f"{pounds} LB" + (f" {plain(rest)} OZ" if rest else "")
    if pounds < 4:
        return f"NET WT {total} OZ ({split}) {si}"
    return f"NET WT {split} ({si})"


def us_random_weight(grams: Decimal) -> str:
    """Pounds with two decimals and grams: a pack without a fixed weight pattern.

    15 USC 1453(a)(3)(A)(ii) allows three decimals, the Uniform Packaging and Labeling Regulation
    two; two satisfy both. Below a hundredth of a pound it is stated in ounces.

    >>> us_random_weight(Decimal(395))
    'NET WT 0.87 LB (395 g)'
    """
    pounds = (grams / _LB).quantize(_HUNDREDTH, ROUND_DOWN)
    if not pounds:
        return us_weight(grams)
    return f"NET WT {pounds} LB ({metric(grams, 'g', 'kg')})"


def us_volume(ml: Decimal) -> str:
    """Fluid ounces and millilitres; from 1 pt also in the largest whole units, from 1 gal in them.

    21 CFR 101.7(j)(2), 15 USC 1453(a)(3)(A)(i).

    >>> us_volume(Decimal(500)), us_volume(Decimal(355))
    ('NET 16.9 FL OZ (1 PT 0.9 FL OZ) 500 mL', 'NET 12 FL OZ (355 mL)')
    """
    total = ounces(ml / _FL_OZ)
    si = metric(ml, "mL", "L")
    if total < 16:
        return f"NET {total} FL OZ ({si})"
    parts, rest = [], total
    for unit, size in _FLUID:
        whole, rest = divmod(rest, size)
        if whole:
            parts.append(f"{whole} {unit}")
    if rest:
        parts.append(f"{plain(rest)} FL OZ")
    split = " ".join(parts)
    if total < 128:
        return f"NET {total} FL OZ ({split}) {si}"
    return f"NET {split} ({si})"


def us_quantity(net: NetQuantity) -> str:
    """The whole declaration. Water that is poured away is not counted: ``drained`` goes before.

    A count stands before the weight.

    >>> us_quantity(NetQuantity(count=6, count_text="6 pieces", grams=Decimal(300)))
    '6 pieces, NET WT 10.5 OZ (300 g)'
    """
    count = count_words(net)
    if net.ml is not None:
        amount = us_volume(net.ml)
    elif net.grams is not None:
        grams = net.drained or net.grams
        amount = us_random_weight(grams) if net.random else us_weight(grams)
    else:
        return f"NET {count}"
    return f"{count}, {amount}" if count else amount


def count_words(net: NetQuantity, pieces: tuple[str, str] = ("piece", "pieces")) -> str:
    """How the count is said, or an empty text where there is none.

    ``pieces`` are the words of the language for one and for several.
    """
    if net.count is None:
        return net.count_text
    return net.count_text or f"{net.count} {pieces[net.count > 1]}"


def eu_quantity(grams: Decimal | None, ml: Decimal | None, point: str = ".") -> str:
    """Grams or kilograms, millilitres or litres (EU 1169/2011 Art. 23), rounded down.

    ``point`` is the decimal mark of the language.

    >>> eu_quantity(Decimal("396.9"), None), eu_quantity(None, Decimal(1500), ",")
    ('396 g', '1,5 l')
    """
    text = metric(grams, "g", "kg") if grams is not None else metric(ml or Decimal(0), "ml", "l")
    return text.replace(".", point)
