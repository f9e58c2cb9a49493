import django.db.models.deletion
import django.db.models.functions.comparison
import inventory.models.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0001_initial'),
        ('planner', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Adoption',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('changes', models.JSONField(default=dict)),
            ],
            options={
                'ordering': ['-at', '-id'],
            },
        ),
        migrations.CreateModel(
            name='OrderEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('state', models.TextField()),
                ('not_before', models.DateField(blank=True, null=True)),
                ('why', models.TextField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-at', '-id'],
            },
        ),
        migrations.AlterModelOptions(
            name='crew',
            options={'ordering': ['brief_id', 'key']},
        ),
        migrations.AlterModelOptions(
            name='phase',
            options={'ordering': ['brief_id', 'start', 'key']},
        ),
        migrations.RemoveConstraint(
            model_name='closure',
            name='closure_once',
        ),
        migrations.AddField(
            model_name='brief',
            name='copied_from',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='copies', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='closure',
            name='brief',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='closures', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='closure',
            name='lifted_in',
            field=models.ManyToManyField(blank=True, related_name='lifted', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='crew',
            name='brief',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='crews', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='historicalbrief',
            name='copied_from',
            field=models.ForeignKey(blank=True, db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='historicalclosure',
            name='brief',
            field=models.ForeignKey(blank=True, db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='historicalcrew',
            name='brief',
            field=models.ForeignKey(blank=True, db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='historicalphase',
            name='brief',
            field=models.ForeignKey(blank=True, db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='order',
            name='goes_on_from',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='followers', to='planner.order'),
        ),
        migrations.AddField(
            model_name='order',
            name='not_before',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='phase',
            name='brief',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='phases', to='planner.brief'),
        ),
        migrations.AddField(
            model_name='plan',
            name='changes',
            field=models.JSONField(default=list),
        ),
        migrations.AddField(
            model_name='plan',
            name='crews_used',
            field=models.JSONField(default=list),
        ),
        migrations.AddField(
            model_name='plan',
            name='goes_on_from',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followers', to='planner.plan'),
        ),
        migrations.AddField(
            model_name='plan',
            name='origin',
            field=models.TextField(default='afresh'),
        ),
        migrations.AddField(
            model_name='plan',
            name='phases_used',
            field=models.JSONField(default=list),
        ),
        migrations.AddField(
            model_name='plan',
            name='remarks',
            field=models.JSONField(default=list),
        ),
        migrations.AlterField(
            model_name='crew',
            name='key',
            field=inventory.models.fields.Key(),
        ),
        migrations.AlterField(
            model_name='phase',
            name='key',
            field=inventory.models.fields.Key(),
        ),
        migrations.AddConstraint(
            model_name='closure',
            constraint=models.UniqueConstraint(models.F('brief'), django.db.models.functions.comparison.Coalesce('building', 0), django.db.models.functions.comparison.Coalesce('room', 0), models.F('start'), models.F('end'), django.db.models.functions.comparison.Coalesce('kind', models.Value('')), name='closure_once'),
        ),
        migrations.AddConstraint(
            model_name='crew',
            constraint=models.UniqueConstraint(fields=('brief', 'key'), name='crew_once'),
        ),
        migrations.AddConstraint(
            model_name='phase',
            constraint=models.UniqueConstraint(fields=('brief', 'key'), name='phase_once'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(('origin__in', ('afresh', 'again', 'by hand'))), name='plan_origin'),
        ),
        migrations.AddField(
            model_name='adoption',
            name='by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='adoption',
            name='in_place_of',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='planner.plan'),
        ),
        migrations.AddField(
            model_name='adoption',
            name='plan',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='adoptions', to='planner.plan'),
        ),
        migrations.AddField(
            model_name='orderevent',
            name='by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='orderevent',
            name='order',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='events', to='planner.order'),
        ),
        migrations.AddConstraint(
            model_name='orderevent',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ('drafted', 'booked', 'under way', 'accepted', 'backed out'))), name='orderevent_state'),
        ),
    ]

