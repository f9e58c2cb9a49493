"""A campus of a million nodes in the database that the settings name: records, verdicts, risks, an adopted plan."""

import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import django
from django.core.management import call_command
from django.db import connection
from django.utils.module_loading import import_string

ORDERS = 1000
AS_OF = datetime(2026, 11, 2, 9, tzinfo=UTC)


def make_site(nodes: int, orders: int = ORDERS) -> None:
    """Fill an empty database with a campus of about so many nodes, judged, with a plan of so many orders."""
    call_command("migrate", verbosity=0)
    import_string("tests.bench.big_tables.store_big")(import_string("tests.bench.big_campus.big_campus")(1, nodes))
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_node SET serial = '20-' || id WHERE id % 3 = 0")
    assessed = import_string("planner.services.assess.assess_campus")(by="the bench")
    _risks()
    _plan(assessed.assessment, orders)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _risks() -> None:
    """Give every station a risk, one in seven an unknown one, without reckoning it."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO planner_stationrisk (node_id, age_years, chance, importance, days_without, score) "
            "SELECT n.id, 12.5, (n.id % 100) / 400.0, 1 + n.id % 5, 30.0, "
            "CASE WHEN n.id % 7 = 0 THEN NULL ELSE (n.id % 9973) / 50.0 END "
            "FROM inventory_node n JOIN inventory_equipmentmodel m ON m.id = n.model_id WHERE m.kind = 'station'"
        )


def _plan(assessment: Any, orders: int) -> None:
    """Adopt a plan of orders, one building after another, of segments that convert."""
    brief_class, plan_class, order_class = (
        import_string(f"planner.models.{name}") for name in ("Brief", "Plan", "Order")
    )
    brief = brief_class.objects.create(name="Big plan")
    plan = plan_class.objects.create(
        brief=brief, assessment=assessment, made=AS_OF, adopted=AS_OF, method="list", objective=100, bound=90, gap=0.1,
        list_objective=120, seed=1, seconds=1.0,
    )  # fmt: skip
    found = assessment.segments.filter(verdict__in=["in place", "together"], building__isnull=False).order_by("pk")
    order_class.objects.bulk_create(_orders(plan, found[:orders], order_class), batch_size=500)


def _orders(plan: Any, segments: Any, order_class: Any) -> Any:
    states = ("accepted", "booked", "booked", "drafted")
    for number, segment in enumerate(segments.defer("report")):
        start = AS_OF + timedelta(days=number // 10 - 20, hours=10 + number % 10)
        yield order_class(
            plan=plan, key=f"{segment.key}-O", building_id=segment.building_id, state=states[number % 4],
            stations=segment.station_count, people=2, outage_min=90, onsite_min=120, benefit=1.0, cost="480.00",
            currency="EUR", crew="Night A", phase="Phase 1", night=start.date(), start=start,
            end=start + timedelta(minutes=120), dark_from=start, dark_to=start + timedelta(minutes=90),
            data={"segments": [segment.key], "stations": [f"{segment.key}-S{n}" for n in range(segment.station_count)]},
        )  # fmt: skip


if __name__ == "__main__":
    django.setup()
    make_site(int(sys.argv[1]))
