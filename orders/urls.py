from django.urls import path

from orders import follow_staff

app_name = "orders"

urlpatterns = [
    path("jobs/<reference:reference>/links/make/", follow_staff.make_link, name="make_link"),
    path("links/<int:pk>/revoke/", follow_staff.revoke_link, name="revoke_link"),
]
