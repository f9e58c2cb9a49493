from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("planner", "0017_figures_sent")]

    operations = [
        migrations.AddField(
            model_name="orderevent",
            name="mended",
            field=models.TextField(blank=True, null=True),
        ),
    ]
