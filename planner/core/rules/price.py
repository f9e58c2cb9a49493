"""What the parts of one option cost on one segment, to choose between options; the take-off counts them for good."""

from collections.abc import Mapping

from inventory.core.catalogue import Method, NodeKind, Part
from planner.core.rules.case import Case


def price_of(case: Case, parts: Mapping[str, Part]) -> tuple[bool, float]:
    """Return whether a price is not known, and the sum of those that are.

    Prices in two currencies are never added: then the sum counts as not known.
    """
    total, unknown = 0.0, False
    currencies = set()
    for number, method in enumerate(case.option.methods):
        counts = _counts(case, method, first=number == 0)
        for line in method.parts:
            if line.when != "always" and line.when not in case.extras:
                continue
            part = parts.get(line.part)
            quantity = float(line.quantity) * counts.get(line.per, 0)
            if part is None or part.price is None:
                unknown |= quantity > 0
                continue
            currencies.add(part.currency)
            total += quantity * float(part.price)
    return unknown or len(currencies) > 1, round(total, 6)


def _counts(case: Case, method: Method, *, first: bool) -> dict[str, int]:
    """Return how often each thing that parts are counted by occurs; what is there once counts for the first method."""
    stations = sum(member.method is method for member in case.old)
    ends = sum(wire.cable_ends for wire in case.wires)
    share = ends * stations / max(len(case.old), 1)
    gateways = sum(member.kind is NodeKind.GATEWAY for member in case.members)
    once = int(first)
    return {
        "station": stations,
        "cable end": round(share),
        "segment": once,
        "gateway": once * gateways,
        "order": once,
    }
