"""The page of sources: every limit and constant that verdicts are measured by, and who says so."""

from collections.abc import Iterable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.limits import BY_NODES, COPPER, MIXED_TRUNK, PROPORTION, SORTS, TABLES, Limit, by_protocol, for_any
from inventory.core.roles import Capability
from inventory.models import ProtocolRate
from inventory.views.guard import requires
from planner.core.doubting.ranges import RANGES
from planner.core.figures import tolerances

ANY = "any that carries power"


@requires(Capability.SEE)
def sources(request: HttpRequest) -> HttpResponse:
    """Show every limit of a protocol, the limits and constants beside them, and what unknown facts are taken to be."""
    beside = [*by_protocol(), *((ANY, limit) for limit in for_any())]
    return render(
        request,
        "planner/sources.html",
        {
            "rates": ProtocolRate.objects.select_related("protocol"),
            "proportion": PROPORTION,
            "by_nodes": BY_NODES,
            "beside": [(protocol, _shown(limit)) for protocol, limit in beside],
            "sorts": [
                {"protocol": sort.protocol, "least": _figure(sort.least_mm2)} for sorts in SORTS for sort in sorts
            ],
            "mixed": MIXED_TRUNK,
            "copper": list(map(_shown, COPPER)),
            "tables": TABLES,
            "tolerances": tolerances(),
            "ranges": list(_ranges()),
        },
    )


def _figure(value: float) -> str:
    return f"{value:.4g}"


def _shown(limit: Limit) -> dict[str, str]:
    return {"what": limit.what, "value": _figure(limit.value), "unit": limit.unit, "source": limit.source}


def _ranges() -> Iterable[dict[str, str | bool]]:
    for one in RANGES:
        what = one.asked.format(f"a {one.of.value}").replace(
            f" of {one.of.value} a {one.of.value}", f" of a {one.of.value}"
        )
        yield {"what": what, "reason": one.reason, "has_worst": one.worst is not None}
