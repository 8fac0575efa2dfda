import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0008_the_floor'),
        ('orders', '0002_file_names'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='RunForLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('run', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='for_line', to='inventory.run')),
                ('line', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='orders.orderline')),
                ('qty', models.PositiveIntegerField()),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('qty__gte', 1)), name='run_for_line_quantity')],
            },
        ),
        migrations.CreateModel(
            name='BroughtIn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(unique=True)),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='brought_in', to='orders.customer')),
                ('what', models.CharField(max_length=120)),
                ('wanted', models.CharField(max_length=300)),
                ('handle', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('wedge', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('came_at', models.DateTimeField()),
                ('ready_by', models.DateField(null=True)),
                ('price_minor', models.BigIntegerField(null=True)),
                ('minutes', models.PositiveIntegerField(null=True)),
                ('done_at', models.DateTimeField(null=True)),
                ('given_back_at', models.DateTimeField(null=True)),
                ('entry', models.OneToOneField(help_text='what was used on it', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='brought_in', to='inventory.entry')),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('price_minor', None), ('price_minor__gte', 0), _connector='OR'), name='brought_in_price'), models.CheckConstraint(condition=models.Q(('given_back_at', None), models.Q(('done_at__isnull', False), ('given_back_at__gte', models.F('came_at'))), _connector='OR'), name='brought_in_given_back_when_done')],
            },
        ),
    ]
