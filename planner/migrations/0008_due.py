from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("planner", "0007_choices")]

    operations = [
        migrations.AddField(
            model_name="takeoffline",
            name="from_due",
            field=models.DecimalField(decimal_places=4, default=0, max_digits=16),
        ),
        migrations.AddField(model_name="takeoffline", name="short_on", field=models.DateField(null=True)),
    ]
