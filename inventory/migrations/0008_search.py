"""Indexes that the search looks through: serial numbers, and on PostgreSQL any part of a name.

The trigrams of PostgreSQL come with its usual additional modules, and any owner of a database may switch them on; where
they are not installed, the search does without and is slower on a very large campus.
"""

from typing import Any

from django.db import DatabaseError, migrations, models, transaction

PARTS = {"inventory_node": ("key", "serial"), "inventory_bus": ("key",), "inventory_room": ("key", "name", "use")}


def index_parts(_apps: Any, editor: Any) -> None:
    """Index parts of names by trigrams, where the database can."""
    if editor.connection.vendor != "postgresql":
        return
    try:
        with transaction.atomic(using=editor.connection.alias):
            editor.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
    except DatabaseError:
        return
    for table, columns in PARTS.items():
        for column in columns:
            name = f"{table}_{column}_parts"
            editor.execute(
                f'CREATE INDEX IF NOT EXISTS "{name}" ON "{table}" USING gin (UPPER("{column}"::text) gin_trgm_ops)'
            )


def forget_parts(_apps: Any, editor: Any) -> None:
    """Take the indexes of parts away."""
    if editor.connection.vendor != "postgresql":
        return
    for table, columns in PARTS.items():
        for column in columns:
            editor.execute(f'DROP INDEX IF EXISTS "{table}_{column}_parts"')


class Migration(migrations.Migration):
    """What the search looks through."""

    dependencies = [("inventory", "0007_steps_done_once")]

    operations = [
        migrations.AddIndex(
            "node",
            models.Index(condition=models.Q(serial__isnull=False), fields=["serial"], name="node_by_serial"),
        ),
        migrations.RunPython(index_parts, forget_parts),
    ]
