"""An index of what was changed by hand, so that it is found among the rows of history that intakes wrote."""

from django.db import migrations
from django.db.models import Index, Q

TABLES = (
    "brief",
    "briefsetting",
    "closure",
    "crew",
    "orderchoice",
    "phase",
    "takenway",
)


def index(table: str) -> Index:
    """Return the index of a history; the rows of an intake give a reason."""
    by_hand = Q(history_change_reason__isnull=True)
    return Index(condition=by_hand, fields=["history_date", "history_id"], name=f"{table}_by_hand")


class Migration(migrations.Migration):
    """One index a history."""

    dependencies = [("planner", "0011_listed")]

    operations = [migrations.AddIndex(f"historical{table}", index(table)) for table in TABLES]
