from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planner", "0004_crews_of_a_brief"),
    ]

    operations = [
        migrations.AddField("assessment", "changed", models.DateTimeField(null=True)),
        migrations.AddField("segment", "buses", models.JSONField(default=list)),
        migrations.AddField("segment", "since", models.DateTimeField(null=True)),
        migrations.AddField("segment", "because", models.TextField(null=True)),
        migrations.AddField("segment", "was", models.TextField(null=True)),
    ]
