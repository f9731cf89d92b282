from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.urls import include, path, register_converter

from studio.accounts import views as accounts_views
from studio.families import views as families_views
from studio.jobs import views
from studio.references import normalise
from studio.tablet import views as studio_tablet_views
from studio.work import views as studio_work_views


class ReferenceConverter:
    """A job's reference in an address, with or without its hyphen."""

    regex = "[0-9A-Za-z]{4}-?[0-9A-Za-z]{4}"

    def to_python(self, value: str) -> str:
        return normalise(value)  # a broken reference is a ValueError, so no address matches: 404

    def to_url(self, value: str) -> str:
        return f"{value[:4]}-{value[4:]}"


register_converter(ReferenceConverter, "reference")

pages = [
    path("", views.today, name="today"),
    path("first-run/", accounts_views.first_run, name="first_run"),
    path("log-in/", accounts_views.LogInView.as_view(), name="log_in"),
    path("log-out/", LogoutView.as_view(), name="log_out"),
    path("families/", families_views.families, name="families"),
    path("families/add/", families_views.add_family, name="add_family"),
    path("families/<int:pk>/", families_views.family, name="family"),
    path("families/<int:pk>/edit/", families_views.edit_family, name="edit_family"),
    path("families/<int:pk>/children/add/", families_views.add_child, name="add_child"),
    path("children/<int:pk>/edit/", families_views.edit_child, name="edit_child"),
    path("jobs/<reference:reference>/", views.job, name="job"),
    path("jobs/<reference:reference>/promise/", views.promise, name="promise"),
    path("jobs/find/", views.find_job, name="find_job"),
    path("pieces/<int:pk>/leave-off/", views.leave_off_piece, name="leave_off_piece"),
    path("unit/", accounts_views.unit, name="unit"),
    path("unit/edit/", accounts_views.edit_unit, name="edit_unit"),
    path("unit/people/add/", accounts_views.add_person, name="add_person"),
    path("work/<int:pk>/", studio_work_views.work, name="work"),
    path("work/<int:pk>/file/", studio_work_views.work_file, name="work_file"),
    path("work/<int:pk>/again/", studio_work_views.retry_work, name="retry_work"),
    path("tablet/", studio_tablet_views.tablet, name="tablet"),
    path(
        "tablet/manifest.webmanifest", studio_tablet_views.tablet_manifest, name="tablet_manifest"
    ),
    path("tablet/sw.js", studio_tablet_views.tablet_worker, name="tablet_worker"),
    path("tablet/pack/", studio_tablet_views.pack, name="pack"),
    path("tablet/entries/", studio_tablet_views.keep_entries, name="keep_entries"),
    path("tablet/resolve/<uuid:key>/", studio_tablet_views.settle_entry, name="settle_entry"),
]

urlpatterns = [
    path("", include((pages, "studio"))),
    path("", include("bookings.urls")),
    path("", include("production.urls")),
    path("", include("orders.urls")),
    path("follow/", include("orders.family_page.urls")),
    path("admin/", admin.site.urls),
]
