from django.apps import AppConfig


class AccessConfig(AppConfig):
    name = "shop.access"
    label = "access"
