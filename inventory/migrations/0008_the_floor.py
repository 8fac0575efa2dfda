import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0007_cut_plans'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Machine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=20, unique=True)),
                ('name', models.CharField(max_length=60)),
                ('kind', models.CharField(max_length=20)),
                ('holds', models.PositiveSmallIntegerField(default=1)),
                ('active', models.BooleanField(default=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('holds__gte', 1)), name='machine_holds_something')],
            },
        ),
        migrations.CreateModel(
            name='ToolingSet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=20, unique=True)),
                ('name', models.CharField(max_length=80)),
                ('change_minutes', models.PositiveSmallIntegerField(default=30)),
                ('dress_at', models.PositiveIntegerField(help_text='pieces after which it is dressed', null=True)),
                ('machines', models.ManyToManyField(related_name='tooling', to='inventory.machine')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('dress_at', None), ('dress_at__gte', 1), _connector='OR'), name='tooling_set_dressed_at')],
            },
        ),
        migrations.CreateModel(
            name='Run',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=4, unique=True)),
                ('kind', models.CharField(choices=[('series', 'Series'), ('made to order', 'Made To Order'), ('opening', 'Opening')], default='series', max_length=13)),
                ('pattern', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='inventory.pattern')),
                ('route', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='inventory.route')),
                ('item', models.ForeignKey(help_text='the head it makes', on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='inventory.item')),
                ('melt', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='inventory.melt')),
                ('wanted', models.PositiveIntegerField(null=True)),
                ('sure_percent', models.PositiveSmallIntegerField(default=90)),
                ('started_at', models.DateTimeField()),
                ('joined_into', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='joined', to='inventory.run')),
                ('split_from', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='split_off', to='inventory.run')),
                ('note', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'indexes': [models.Index(fields=['pattern', 'started_at'], name='run_pattern')],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['series', 'made to order', 'opening'])), name='run_kind'), models.CheckConstraint(condition=models.Q(('sure_percent__gte', 1), ('sure_percent__lte', 99)), name='run_sure'), models.CheckConstraint(condition=models.Q(('wanted', None), ('wanted__gte', 1), _connector='OR'), name='run_wanted')],
            },
        ),
        migrations.AddField(
            model_name='lot',
            name='usable_from',
            field=models.DateTimeField(help_text='when glue and oil are dry', null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='aim',
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddField(
            model_name='pattern',
            name='crack_check',
            field=models.BooleanField(default=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='hard_high',
            field=models.PositiveSmallIntegerField(help_text='tenths of HRC', null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='hard_low',
            field=models.PositiveSmallIntegerField(help_text='tenths of HRC', null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='hard_source',
            field=models.CharField(blank=True, help_text='document and edition of the window', max_length=80),
        ),
        migrations.AddField(
            model_name='pattern',
            name='head_mass_mg',
            field=models.BigIntegerField(help_text='bare head as wanted', null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='heavy_above_mg',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='labour_minor_per_hour',
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='pattern',
            name='light_below_mg',
            field=models.BigIntegerField(help_text='a head under this is of the light class', null=True),
        ),
        migrations.AddField(
            model_name='pattern',
            name='loss_ppm',
            field=models.PositiveIntegerField(default=110000, help_text='blank to head; learned from twenty heads on'),
        ),
        migrations.AddField(
            model_name='step',
            name='afresh_from',
            field=models.DateTimeField(help_text='counts before this no longer teach anything', null=True),
        ),
        migrations.AddField(
            model_name='step',
            name='fire_batch',
            field=models.PositiveSmallIntegerField(default=0, help_text='pieces in the fire at once'),
        ),
        migrations.AddField(
            model_name='step',
            name='good_ppm',
            field=models.PositiveIntegerField(default=1000000, help_text='believed before anything is counted'),
        ),
        migrations.AddField(
            model_name='step',
            name='hands',
            field=models.ManyToManyField(help_text='who can do it; nobody named: everybody', related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='step',
            name='optional',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='step',
            name='oven_fits',
            field=models.PositiveSmallIntegerField(default=0, help_text='pieces of it that fill the oven'),
        ),
        migrations.AddField(
            model_name='step',
            name='people',
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddField(
            model_name='step',
            name='prior_pieces',
            field=models.PositiveSmallIntegerField(default=50, help_text='what that belief is worth'),
        ),
        migrations.AddField(
            model_name='step',
            name='seconds_each',
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='step',
            name='set_up_minutes',
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='step',
            name='soak_minutes',
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='step',
            name='spread_percent',
            field=models.PositiveSmallIntegerField(default=25),
        ),
        migrations.AddField(
            model_name='step',
            name='stage',
            field=models.CharField(choices=[('head', 'Head'), ('tool', 'Tool')], default='head', max_length=4),
        ),
        migrations.AddField(
            model_name='step',
            name='strike_code',
            field=models.BooleanField(default=False, help_text="the run's code is struck here"),
        ),
        migrations.AddField(
            model_name='step',
            name='temperature_dc',
            field=models.PositiveSmallIntegerField(default=0, help_text='tenths of a degree Celsius'),
        ),
        migrations.AddField(
            model_name='step',
            name='within_minutes',
            field=models.PositiveSmallIntegerField(default=0, help_text='hardened pieces are in the temper by then'),
        ),
        migrations.AddField(
            model_name='step',
            name='work',
            field=models.CharField(choices=[('saw', 'Saw'), ('forge', 'Forge'), ('cool', 'Cool'), ('grind', 'Grind'), ('harden', 'Harden'), ('temper', 'Temper'), ('check', 'Check'), ('finish', 'Finish'), ('haft', 'Haft'), ('oil', 'Oil'), ('pack', 'Pack'), ('other', 'Other')], default='other', max_length=8),
        ),
        migrations.AlterField(
            model_name='entry',
            name='kind',
            field=models.CharField(choices=[('moved in', 'Move In'), ('delivery', 'Delivery'), ('shipment', 'Shipment'), ('return', 'Return'), ('inspection', 'Inspection'), ('made up', 'Made Up'), ('take-out', 'Take Out'), ('take-back', 'Take Back'), ('use', 'Use'), ('move', 'Move'), ('count', 'Count'), ('cut', 'Cut'), ('paint lost', 'Paint Lost'), ('sent back', 'Sent Back'), ('correction', 'Correction'), ('not to be used', 'Not To Be Used'), ('run started', 'Run Started'), ('run split', 'Run Split'), ('run count', 'Run Count'), ('oven', 'Oven'), ('hafted', 'Hafted'), ('handles sorted', 'Sorted'), ('reversal', 'Reversal')], max_length=20),
        ),
        migrations.AddConstraint(
            model_name='pattern',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('hard_high', None), ('hard_low', None)), models.Q(('hard_high__isnull', False), ('hard_high__lte', 700), ('hard_low__isnull', False), ('hard_low__lte', models.F('hard_high'))), _connector='OR'), name='pattern_hardness_window'),
        ),
        migrations.AddConstraint(
            model_name='pattern',
            constraint=models.CheckConstraint(condition=models.Q(('loss_ppm__lte', 900000)), name='pattern_loss'),
        ),
        migrations.AddConstraint(
            model_name='pattern',
            constraint=models.CheckConstraint(condition=models.Q(('light_below_mg', None), ('heavy_above_mg', None), ('light_below_mg__lte', models.F('heavy_above_mg')), _connector='OR'), name='pattern_weight_classes'),
        ),
        migrations.AddField(
            model_name='step',
            name='machines',
            field=models.ManyToManyField(related_name='+', to='inventory.machine'),
        ),
        migrations.AddField(
            model_name='lot',
            name='run',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.run'),
        ),
        migrations.AddField(
            model_name='step',
            name='tooling',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='inventory.toolingset'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.CheckConstraint(condition=models.Q(('work__in', ['saw', 'forge', 'cool', 'grind', 'harden', 'temper', 'check', 'finish', 'haft', 'oil', 'pack', 'other'])), name='step_work'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.CheckConstraint(condition=models.Q(('stage__in', ['head', 'tool'])), name='step_stage'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.CheckConstraint(condition=models.Q(('good_ppm__lte', 1000000), ('people__gte', 1), ('prior_pieces__gte', 1)), name='step_rate_believed'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('work', 'temper'), _negated=True), models.Q(('soak_minutes__gte', 1), ('temperature_dc__gte', 1)), _connector='OR'), name='step_temper_has_soak'),
        ),
        migrations.CreateModel(
            name='ToolingChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('tooling', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='inventory.toolingset')),
                ('what', models.CharField(choices=[('in', 'In'), ('dressed', 'Dressed'), ('out of use', 'Out Of Use'), ('back in use', 'Back')], max_length=12)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'indexes': [models.Index(fields=['tooling', 'id'], name='tooling_change_last')],
                'constraints': [models.CheckConstraint(condition=models.Q(('what__in', ['in', 'dressed', 'out of use', 'back in use'])), name='tooling_change_what')],
            },
        ),
        migrations.CreateModel(
            name='StepCause',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='causes', to='inventory.step')),
                ('name', models.CharField(max_length=40)),
                ('second', models.BooleanField(default=False, help_text='may be sold as a second')),
                ('rework_to', models.PositiveSmallIntegerField(help_text='number of the step it goes back to', null=True)),
                ('handle_only', models.BooleanField(default=False, help_text='the handle is lost, not the head')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('step', 'name'), name='step_cause_once'), models.CheckConstraint(condition=models.Q(('rework_to', None), ('rework_to__gte', 1), _connector='OR'), name='step_cause_rework'), models.CheckConstraint(condition=models.Q(('handle_only', False), models.Q(('rework_to', None), ('second', False)), _connector='OR'), name='step_cause_handle')],
            },
        ),
        migrations.CreateModel(
            name='StepUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='inventory.step')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('per_hundred', models.BigIntegerField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('step', 'item'), name='step_use_once'), models.CheckConstraint(condition=models.Q(('per_hundred__gte', 1)), name='step_use_something')],
            },
        ),
        migrations.CreateModel(
            name='RunCount',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='run_count', to='inventory.entry')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='counts', to='inventory.run')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='counts', to='inventory.step')),
                ('taken', models.PositiveIntegerField()),
                ('good', models.PositiveIntegerField()),
                ('scrap', models.PositiveIntegerField(default=0)),
                ('second', models.PositiveIntegerField(default=0)),
                ('rework', models.PositiveIntegerField(default=0)),
                ('handles_lost', models.PositiveIntegerField(default=0)),
                ('caught_up', models.BooleanField(default=False, help_text='booked with a later count')),
                ('crack_checked', models.BooleanField(default=False)),
                ('minutes', models.PositiveIntegerField(null=True)),
                ('people', models.PositiveSmallIntegerField(null=True)),
                ('light', models.PositiveIntegerField(default=0)),
                ('in_class', models.PositiveIntegerField(default=0)),
                ('heavy', models.PositiveIntegerField(default=0)),
                ('early', models.BooleanField(default=False, help_text='a cure was released early, by name and reason')),
            ],
            options={
                'indexes': [models.Index(fields=['run', 'id'], name='run_count_run'), models.Index(fields=['step', 'id'], name='run_count_step')],
                'constraints': [models.CheckConstraint(condition=models.Q(('taken', django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(models.F('good'), '+', models.F('scrap')), '+', models.F('second')), '+', models.F('rework'))), ('taken__gte', 1)), name='run_count_is_all_taken'), models.CheckConstraint(condition=models.Q(('good__gte', django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(models.F('light'), '+', models.F('in_class')), '+', models.F('heavy')))), name='run_count_weighed_of_good'), models.CheckConstraint(condition=models.Q(('minutes', None), ('minutes__gte', 1), _connector='OR'), name='run_count_minutes'), models.CheckConstraint(condition=models.Q(('people', None), ('people__gte', 1), _connector='OR'), name='run_count_people')],
            },
        ),
        migrations.CreateModel(
            name='CountReject',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('count', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rejects', to='inventory.runcount')),
                ('cause', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='rejects', to='inventory.stepcause')),
                ('qty', models.PositiveIntegerField()),
                ('fate', models.CharField(choices=[('scrap', 'Scrap'), ('second', 'Second'), ('rework', 'Rework')], max_length=6)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('qty__gte', 1)), name='count_reject_is_some'), models.CheckConstraint(condition=models.Q(('fate__in', ['scrap', 'second', 'rework'])), name='count_reject_fate'), models.CheckConstraint(condition=models.Q(('fate', 'scrap'), ('cause__isnull', False), _connector='OR'), name='count_reject_saved_has_cause')],
            },
        ),
        migrations.CreateModel(
            name='HeadWeight',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('count', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='weights', to='inventory.runcount')),
                ('mass_mg', models.BigIntegerField()),
                ('typed', models.CharField(max_length=40)),
                ('number', models.CharField(blank=True, max_length=20)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('mass_mg__gte', 1)), name='head_weight_is_some')],
            },
        ),
        migrations.CreateModel(
            name='OvenLoad',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(unique=True)),
                ('work', models.CharField(choices=[('harden', 'Harden'), ('temper', 'Temper')], max_length=6)),
                ('oven', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='loads', to='inventory.machine')),
                ('temperature_dc', models.PositiveSmallIntegerField(help_text='tenths of a degree Celsius, as set')),
                ('typed', models.CharField(help_text='as typed', max_length=20)),
                ('soak_minutes', models.PositiveSmallIntegerField(default=0)),
                ('heat_up_minutes', models.PositiveSmallIntegerField(default=0)),
                ('in_at', models.DateTimeField()),
                ('at_temperature_at', models.DateTimeField(null=True)),
                ('out_at', models.DateTimeField(null=True)),
                ('reached', models.BooleanField(help_text='whether it came to temperature and soak', null=True)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='oven_load', to='inventory.entry')),
                ('out_entry', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='oven_load_out', to='inventory.entry')),
            ],
            options={
                'indexes': [models.Index(condition=models.Q(('out_at', None)), fields=['in_at'], name='oven_load_open')],
                'constraints': [models.CheckConstraint(condition=models.Q(('work__in', ['harden', 'temper'])), name='oven_load_work'), models.CheckConstraint(condition=models.Q(('out_at', None), ('out_at__gte', models.F('in_at')), _connector='OR'), name='oven_load_out_after_in'), models.CheckConstraint(condition=models.Q(('at_temperature_at', None), ('at_temperature_at__gte', models.F('in_at')), _connector='OR'), name='oven_load_hot_after_in'), models.CheckConstraint(condition=models.Q(models.Q(('out_at', None), ('reached', None)), models.Q(('out_at__isnull', False), ('reached__isnull', False)), _connector='OR'), name='oven_load_answered_when_out'), models.CheckConstraint(condition=models.Q(models.Q(('work', 'temper'), _negated=True), models.Q(('soak_minutes__gte', 1), ('temperature_dc__gte', 1)), _connector='OR'), name='oven_load_temper_soaks')],
            },
        ),
        migrations.CreateModel(
            name='LoadLot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('load', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.ovenload')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='loads', to='inventory.lot')),
                ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.step')),
                ('qty', models.PositiveIntegerField()),
                ('trial', models.CharField(blank=True, help_text='what the trial piece of this lot showed', max_length=120)),
                ('open', models.BooleanField(default=True)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('load', 'lot'), name='load_lot_once'), models.UniqueConstraint(condition=models.Q(('open', True)), fields=('lot',), name='load_lot_in_one_open_load'), models.CheckConstraint(condition=models.Q(('qty__gte', 1)), name='load_lot_is_some')],
            },
        ),
        migrations.CreateModel(
            name='Hardness',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hardness', to='inventory.lot')),
                ('load', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='hardness', to='inventory.ovenload')),
                ('method', models.CharField(choices=[('rockwell', 'Rockwell'), ('rebound', 'Rebound'), ('file pair', 'Files')], max_length=9)),
                ('low', models.PositiveSmallIntegerField(help_text='tenths of HRC; of a pair the softer file')),
                ('high', models.PositiveSmallIntegerField(help_text='the same figure, or the harder file')),
                ('inside', models.BooleanField(help_text='inside the published window; nothing where there is none', null=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('withdrawn_at', models.DateTimeField(null=True)),
            ],
            options={
                'indexes': [models.Index(fields=['lot', 'id'], name='hardness_lot')],
                'constraints': [models.CheckConstraint(condition=models.Q(('method__in', ['rockwell', 'rebound', 'file pair'])), name='hardness_method'), models.CheckConstraint(condition=models.Q(('high__lte', 700), ('low__gte', 1), ('low__lte', models.F('high'))), name='hardness_in_scale')],
            },
        ),
        migrations.CreateModel(
            name='FloorNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('stopped: gas', 'No Gas'), ('stopped: hammer', 'Hammer'), ('stopped: hands', 'Hands'), ('bottle changed', 'Bottle')], max_length=16)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='inventory.run')),
                ('item', models.ForeignKey(help_text='what is in the bottle', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'indexes': [models.Index(fields=['at'], name='floor_note_at')],
                'constraints': [models.CheckConstraint(condition=models.Q(('what__in', ['stopped: gas', 'stopped: hammer', 'stopped: hands', 'bottle changed'])), name='floor_note_what'), models.CheckConstraint(condition=models.Q(models.Q(('what', 'bottle changed'), _negated=True), ('item__isnull', False), _connector='OR'), name='floor_note_bottle_of_something')],
            },
        ),
        migrations.CreateModel(
            name='HandleSort',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entry', models.OneToOneField(help_text='where some were scrap', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='handle_sort', to='inventory.entry')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sorts', to='inventory.lot')),
                ('good', models.PositiveIntegerField()),
                ('bad', models.PositiveIntegerField(default=0)),
                ('moisture_permille', models.PositiveSmallIntegerField(null=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('good__gte', 1), ('bad__gte', 1), _connector='OR'), name='handle_sort_is_some'), models.CheckConstraint(condition=models.Q(('bad', 0), ('entry__isnull', False), _connector='OR'), name='handle_sort_scrap_is_booked'), models.CheckConstraint(condition=models.Q(('moisture_permille', None), ('moisture_permille__lte', 1000), _connector='OR'), name='handle_sort_moisture')],
            },
        ),
    ]
