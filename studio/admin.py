"""Django's admin for the operator of the installation: almost everything is read-only.

Jobs, events and money are changed only by the actions.
"""

from typing import Any

from django.contrib import admin
from django.db import models
from django.http import HttpRequest

from studio.accounts.models import Membership, Unit, User
from studio.families.models import Child, Family
from studio.jobs.models import Job, JobEvent, Piece
from studio.tablet.models import TabletEntry
from studio.work.models import Work


class ReadOnlyAdmin(admin.ModelAdmin[models.Model]):
    """Read-only admin: rows are added, changed and deleted only by the actions."""

    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(User)
class UserAdmin(admin.ModelAdmin[User]):
    list_display = ("email", "name", "is_active")
    search_fields = ("email", "name")
    fields = ("email", "name", "is_active", "is_staff", "is_superuser")


@admin.register(Membership)
class MembershipAdmin(admin.ModelAdmin[Membership]):
    list_display = ("user", "unit", "role")
    list_select_related = ("user", "unit")


@admin.register(TabletEntry)
class TabletEntryAdmin(ReadOnlyAdmin):
    """What tablets sent, as it arrived, and what became of it."""

    list_display = ("received_at", "unit", "kind", "state", "by", "device", "seq")
    list_filter = ("state", "kind")
    list_select_related = ("unit", "by")


admin.site.register([Unit, Family, Child, Job, Piece, JobEvent, Work], ReadOnlyAdmin)
