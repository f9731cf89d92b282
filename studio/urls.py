from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.urls import include, path, register_converter

from studio import tablet_views, views, work_views
from studio.references import normalise


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
    path("first-run/", views.first_run, name="first_run"),
    path("log-in/", views.LogInView.as_view(), name="log_in"),
    path("log-out/", LogoutView.as_view(), name="log_out"),
    path("families/", views.families, name="families"),
    path("families/add/", views.add_family, name="add_family"),
    path("families/<int:pk>/", views.family, name="family"),
    path("families/<int:pk>/edit/", views.edit_family, name="edit_family"),
    path("families/<int:pk>/children/add/", views.add_child, name="add_child"),
    path("children/<int:pk>/edit/", views.edit_child, name="edit_child"),
    path("jobs/<reference:reference>/", views.job, name="job"),
    path("jobs/<reference:reference>/promise/", views.promise, name="promise"),
    path("jobs/find/", views.find_job, name="find_job"),
    path("pieces/<int:pk>/leave-off/", views.leave_off_piece, name="leave_off_piece"),
    path("unit/", views.unit, name="unit"),
    path("unit/edit/", views.edit_unit, name="edit_unit"),
    path("unit/people/add/", views.add_person, name="add_person"),
    path("work/<int:pk>/", work_views.work, name="work"),
    path("work/<int:pk>/file/", work_views.work_file, name="work_file"),
    path("work/<int:pk>/again/", work_views.retry_work, name="retry_work"),
    path("tablet/", tablet_views.tablet, name="tablet"),
    path("tablet/manifest.webmanifest", tablet_views.tablet_manifest, name="tablet_manifest"),
    path("tablet/sw.js", tablet_views.tablet_worker, name="tablet_worker"),
    path("tablet/pack/", tablet_views.pack, name="pack"),
    path("tablet/entries/", tablet_views.keep_entries, name="keep_entries"),
    path("tablet/resolve/<uuid:key>/", tablet_views.settle_entry, name="settle_entry"),
]

urlpatterns = [
    path("", include((pages, "studio"))),
    path("", include("bookings.urls")),
    path("", include("production.urls")),
    path("", include("orders.urls")),
    path("follow/", include("orders.follow_urls")),
    path("admin/", admin.site.urls),
]
