from django.apps import AppConfig


class SharedConfig(AppConfig):
    name = "shop.shared"
    label = "shared"
