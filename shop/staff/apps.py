from django.apps import AppConfig


class StaffConfig(AppConfig):
    name = "shop.staff"
    label = "staff"
