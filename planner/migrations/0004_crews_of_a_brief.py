import django.db.models.deletion
from django.db import migrations, models


def of_a_brief(name):
    return models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name=name, to="planner.brief")


class Migration(migrations.Migration):

    dependencies = [("planner", "0003_crews_of_the_first_brief")]

    operations = [
        migrations.AlterField(model_name="crew", name="brief", field=of_a_brief("crews")),
        migrations.AlterField(model_name="phase", name="brief", field=of_a_brief("phases")),
        migrations.AlterField(model_name="closure", name="brief", field=of_a_brief("closures")),
    ]
