from django.db import migrations

FIRST_BRIEF = "First plan"


def give_to_the_first_brief(apps, _schema_editor):
    rows = [apps.get_model("planner", name).objects.filter(brief__isnull=True) for name in ("Crew", "Phase", "Closure")]
    if any(some.exists() for some in rows):
        first, _ = apps.get_model("planner", "Brief").objects.get_or_create(name=FIRST_BRIEF)
        for some in rows:
            some.update(brief=first)


class Migration(migrations.Migration):

    dependencies = [("planner", "0002_scenarios")]

    operations = [migrations.RunPython(give_to_the_first_brief, migrations.RunPython.noop)]
