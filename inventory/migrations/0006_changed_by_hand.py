"""An index of what was changed by hand, so that it is found among the rows of history that intakes wrote."""

from django.db import migrations
from django.db.models import Index, Q

TABLES = (
    "building",
    "bus",
    "cable",
    "delivery",
    "equipmentmodel",
    "failure",
    "method",
    "methodpart",
    "methodpin",
    "methodstep",
    "node",
    "part",
    "protocol",
    "protocolrate",
    "reading",
    "room",
    "run",
    "scene",
    "spare",
    "zone",
)


def index(table: str) -> Index:
    """Return the index of a history; the rows of an intake give a reason."""
    by_hand = Q(history_change_reason__isnull=True)
    return Index(condition=by_hand, fields=["history_date", "history_id"], name=f"{table}_by_hand")


class Migration(migrations.Migration):
    """One index a history."""

    dependencies = [("inventory", "0005_intakes_taken_back")]

    operations = [migrations.AddIndex(f"historical{table}", index(table)) for table in TABLES]
