from django.urls import path, re_path

from orders.family_page import views

app_name = "family_page"

urlpatterns = [
    path("at/<uuid:public_id>/", views.page, name="page"),
    path("at/<uuid:public_id>/look/", views.choose_look, name="choose_look"),
    path("at/<uuid:public_id>/accept/", views.accept_quote, name="accept_quote"),
    path("at/<uuid:public_id>/decline/", views.decline_quote, name="decline_quote"),
    path("at/<uuid:public_id>/orders/<int:pk>/", views.quote_paper, name="quote_paper"),
    path(
        "at/<uuid:public_id>/consents/<int:pk>/withdraw/",
        views.withdraw_consent,
        name="withdraw_consent",
    ),
    path("at/<uuid:public_id>/order.pdf", views.confirmation, name="confirmation"),
    path("at/<uuid:public_id>/papers/<int:pk>/", views.paper, name="paper"),
    path("at/<uuid:public_id>/photos/<uuid:photo_id>/", views.photo, name="photo"),
    # Some mail programs drop the trailing slash of an address.
    path("<str:token>", views.arrive, name="arrive"),
    path("<str:token>/", views.arrive, name="arrive"),
    # Any other address, such as a mangled link, gets the same answer.
    re_path("", views.no_longer_opens, name="no_longer_opens"),
]
