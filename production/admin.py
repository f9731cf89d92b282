"""The bench's rows to look at; they change only through the actions."""

from django.contrib import admin

from production.casts.models import Cast, Pour, Weighing
from production.frames.models import Frame
from production.stock.models import Lot, Material, Purchase, StockMove
from studio.admin import ReadOnlyAdmin


@admin.register(Pour)
class PourAdmin(ReadOnlyAdmin):
    list_display = ("poured_at", "unit", "plaster_g", "water_g", "consistency", "by")
    list_select_related = ("unit", "by")
    date_hierarchy = "poured_at"


@admin.register(Cast)
class CastAdmin(ReadOnlyAdmin):
    list_display = ("piece", "unit", "rack_place", "demoulded_at", "dry_at", "spoiled_at")
    list_select_related = ("unit", "piece__child")
    search_fields = ("piece__job__reference",)


@admin.register(Weighing)
class WeighingAdmin(ReadOnlyAdmin):
    list_display = ("cast", "at", "mass_g", "struck_at", "by")
    list_select_related = ("cast__piece__child", "by")
    search_fields = ("cast__piece__job__reference",)


@admin.register(Frame)
class FrameAdmin(ReadOnlyAdmin):
    list_display = ("job", "started_at", "glazed", "checked_at")
    list_select_related = ("job",)
    search_fields = ("job__reference",)


@admin.register(Material)
class MaterialAdmin(ReadOnlyAdmin):
    list_display = ("name", "unit", "kind", "measure", "pack", "used_at", "retired_at")
    list_select_related = ("unit",)
    search_fields = ("name", "supplier")


@admin.register(Lot)
class LotAdmin(ReadOnlyAdmin):
    list_display = ("material", "received_on", "quantity", "left", "best_before")
    list_select_related = ("material__unit",)
    search_fields = ("material__name", "label")


@admin.register(StockMove)
class StockMoveAdmin(ReadOnlyAdmin):
    list_display = ("at", "lot", "what", "quantity", "job", "by")
    list_select_related = ("lot__material", "job", "by")
    search_fields = ("lot__material__name", "job__reference")


@admin.register(Purchase)
class PurchaseAdmin(ReadOnlyAdmin):
    list_display = ("material", "ordered_on", "expected_on", "quantity", "arrived", "closed_at")
    list_select_related = ("material",)
    search_fields = ("material__name",)
