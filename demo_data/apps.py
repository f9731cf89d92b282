from django.apps import AppConfig


class DemoDataConfig(AppConfig):
    name = "demo_data"
