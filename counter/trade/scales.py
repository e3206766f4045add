"""What the counter's scale shows, less the container: the weight that is paid."""

from __future__ import annotations

from counter.errors import BadInput
from labels.errors import BadValue
from labels.units import Measure, parse_measure


def net_weight(gross: str, tare: str, unit: str) -> Measure:
    """Gross less tare, both as the scale shows them in ``unit``.

    >>> str(net_weight("0.62", "0.02", "lb"))
    '0.6 lb'
    """
    tried = f"weigh {gross} {unit}"
    try:
        whole = parse_measure(f"{gross.replace(',', '.')} {unit}", "mass")
        empty = parse_measure(f"{(tare or '0').replace(',', '.')} {unit}", "mass")
    except BadValue as error:
        raise BadInput(error.tried, error.why, error.do) from None
    if whole.amount > 100_000:
        raise BadInput(tried, "no counter's scale shows that", "Weigh it again")
    net = whole.amount - empty.amount
    if net <= 0:
        raise BadInput(tried, f"the container alone weighs {empty}", "Weigh it again, or no tare")
    return Measure(net, whole.unit)
