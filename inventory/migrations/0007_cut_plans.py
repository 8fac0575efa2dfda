import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('access', '__first__'),
        ('inventory', '0006_cut_without_blank'),
    ]

    operations = [
        migrations.CreateModel(
            name='Blade',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True)),
                ('kerf_nm', models.BigIntegerField()),
                ('tail_hold_nm', models.BigIntegerField(default=0, help_text='what must stay behind the last cut for the vice')),
                ('measured_on', models.DateField()),
                ('active', models.BooleanField(default=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('kerf_nm__gte', 0), ('kerf_nm__lte', 25400000), ('tail_hold_nm__gte', 0), ('tail_hold_nm__lte', 1000000000)), name='blade_sensible')],
            },
        ),
        migrations.CreateModel(
            name='CutPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(unique=True)),
                ('state', models.CharField(choices=[('asked', 'Asked'), ('answered', 'Answered'), ('taken', 'Taken'), ('sawn', 'Sawn'), ('dropped', 'Dropped')], default='asked', max_length=8)),
                ('kerf_nm', models.BigIntegerField()),
                ('tail_hold_nm', models.BigIntegerField(default=0)),
                ('trim_nm', models.BigIntegerField(default=0, help_text='cut off the mill end of a full bar, without its kerf')),
                ('min_remnant_nm', models.BigIntegerField()),
                ('one_heat', models.BooleanField(default=True, help_text='each kind of blank from one mill heat')),
                ('remnant_price_nm', models.BigIntegerField(help_text='what a new remnant counts, in length of scrap')),
                ('handled_price_nm', models.BigIntegerField(help_text='what a bar sawn counts')),
                ('full_price_nm', models.BigIntegerField(help_text='what a full bar opened counts')),
                ('buyable', models.JSONField(default=list, help_text='lengths that may be bought: nm, minor units, as typed')),
                ('seconds', models.PositiveSmallIntegerField(default=10, help_text='how long the worker may look')),
                ('so_far', models.JSONField(null=True)),
                ('answers', models.JSONField(default=list)),
                ('chosen', models.PositiveSmallIntegerField(null=True)),
                ('asked_at', models.DateTimeField()),
                ('answered_at', models.DateTimeField(null=True)),
                ('taken_at', models.DateTimeField(null=True)),
                ('ended_at', models.DateTimeField(null=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('asked_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('blade', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.blade')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cut_plans', to='inventory.item')),
            ],
            options={
                'indexes': [models.Index(fields=['state', 'number'], name='cut_plan_open')],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['asked', 'answered', 'taken', 'sawn', 'dropped'])), name='cut_plan_state'), models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['taken', 'sawn']), _negated=True), models.Q(('chosen__isnull', False), ('taken_at__isnull', False)), _connector='OR'), name='cut_plan_taken_is_one'), models.CheckConstraint(condition=models.Q(('full_price_nm__gte', 0), ('handled_price_nm__gte', 0), ('kerf_nm__gte', 0), ('min_remnant_nm__gte', 1), ('remnant_price_nm__gte', 0), ('seconds__gte', 1), ('tail_hold_nm__gte', 0), ('trim_nm__gte', 0)), name='cut_plan_sensible')],
            },
        ),
        migrations.CreateModel(
            name='CutPlanBar',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('pieces', models.JSONField(help_text="numbers of the plan's lines, one a piece, in the order of the saw")),
                ('length_nm', models.BigIntegerField(help_text='as it stood when the plan was taken')),
                ('trim_nm', models.BigIntegerField(default=0)),
                ('left_nm', models.BigIntegerField(default=0)),
                ('kept', models.BooleanField(default=False, help_text='what is left is a remnant')),
                ('state', models.CharField(choices=[('to saw', 'To Saw'), ('sawn', 'Sawn'), ('left alone', 'Left')], default='to saw', max_length=10)),
                ('allocation', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='cut_plan_bar', to='inventory.allocation')),
                ('bar', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cut_plan_bars', to='inventory.bar')),
                ('cut', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='cut_plan_bar', to='inventory.cut')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bars', to='inventory.cutplan')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('plan', 'bar'), name='cut_plan_bar_once'), models.CheckConstraint(condition=models.Q(models.Q(('allocation__isnull', False), ('cut', None), ('state', 'to saw')), models.Q(('allocation', None), ('cut__isnull', False), ('state', 'sawn')), models.Q(('allocation', None), ('cut', None), ('state', 'left alone')), _connector='OR'), name='cut_plan_bar_set_aside'), models.CheckConstraint(condition=models.Q(('left_nm__gte', 0), ('length_nm__gte', 1), ('trim_nm__gte', 0), ('length_nm__gte', django.db.models.expressions.CombinedExpression(models.F('trim_nm'), '+', models.F('left_nm')))), name='cut_plan_bar_lengths')],
            },
        ),
        migrations.CreateModel(
            name='CutPlanLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('piece_nm', models.BigIntegerField()),
                ('count', models.PositiveIntegerField()),
                ('due', models.DateField(null=True)),
                ('words', models.CharField(blank=True, help_text='what for', max_length=120)),
                ('blank', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.cutplan')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('plan', 'number'), name='cut_plan_line_once'), models.CheckConstraint(condition=models.Q(('count__gte', 1), ('piece_nm__gte', 1)), name='cut_plan_line_is_some')],
            },
        ),
        migrations.CreateModel(
            name='CutRules',
            fields=[
                ('id', models.SmallIntegerField(default=1, primary_key=True, serialize=False)),
                ('min_remnant_nm', models.BigIntegerField(default=304800000, help_text='the shortest rest worth keeping')),
                ('trim_nm', models.BigIntegerField(default=0, help_text='cut off the mill end of a full bar, without its kerf')),
                ('remnant_price_nm', models.BigIntegerField(default=100000000, help_text='a new remnant, in length of scrap')),
                ('handled_price_nm', models.BigIntegerField(default=30000000, help_text='a bar sawn, in length of scrap')),
                ('full_price_nm', models.BigIntegerField(default=200000000, help_text='a full bar opened, in length of scrap')),
                ('one_heat', models.BooleanField(default=True, help_text='each kind of blank from one mill heat')),
                ('version', models.PositiveIntegerField(default=1)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('id', 1)), name='cut_rules_one_row'), models.CheckConstraint(condition=models.Q(('full_price_nm__gte', 0), ('handled_price_nm__gte', 0), ('min_remnant_nm__gte', 1), ('remnant_price_nm__gte', 0), ('trim_nm__gte', 0)), name='cut_rules_sensible')],
            },
        ),
    ]
