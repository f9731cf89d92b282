"""The bench's rows to look at; they change only through the actions."""

from django.contrib import admin

from production.models import Cast, Frame, Pour, Weighing
from studio.admin import LookOnly


@admin.register(Pour)
class PourAdmin(LookOnly):
    list_display = ("poured_at", "unit", "plaster_g", "water_g", "consistency", "by")
    list_select_related = ("unit", "by")
    date_hierarchy = "poured_at"


@admin.register(Cast)
class CastAdmin(LookOnly):
    list_display = ("piece", "unit", "rack_place", "demoulded_at", "dry_at", "spoiled_at")
    list_select_related = ("unit", "piece__child")
    search_fields = ("piece__job__reference",)


@admin.register(Weighing)
class WeighingAdmin(LookOnly):
    list_display = ("cast", "at", "mass_g", "struck_at", "by")
    list_select_related = ("cast__piece__child", "by")
    search_fields = ("cast__piece__job__reference",)


@admin.register(Frame)
class FrameAdmin(LookOnly):
    list_display = ("job", "started_at", "glazed", "checked_at")
    list_select_related = ("job",)
    search_fields = ("job__reference",)
