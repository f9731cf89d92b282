from django.urls import path, re_path

from orders import follow

app_name = "follow"

urlpatterns = [
    path("at/<uuid:public_id>/", follow.page, name="page"),
    path("at/<uuid:public_id>/look/", follow.choose_look, name="choose_look"),
    path("at/<uuid:public_id>/accept/", follow.accept_quote, name="accept_quote"),
    path("at/<uuid:public_id>/decline/", follow.decline_quote, name="decline_quote"),
    path("at/<uuid:public_id>/orders/<int:pk>/", follow.quote_paper, name="quote_paper"),
    path(
        "at/<uuid:public_id>/consents/<int:pk>/withdraw/",
        follow.withdraw_consent,
        name="withdraw_consent",
    ),
    path("at/<uuid:public_id>/order.pdf", follow.confirmation, name="confirmation"),
    path("at/<uuid:public_id>/papers/<int:pk>/", follow.paper, name="paper"),
    path("at/<uuid:public_id>/photos/<uuid:photo_id>/", follow.photo, name="photo"),
    # Some mail programs drop the last stroke of an address.
    path("<str:token>", follow.arrive, name="arrive"),
    path("<str:token>/", follow.arrive, name="arrive"),
    # Whatever else stands in the address, a mangled link included: the same answer.
    re_path("", follow.no_longer_opens, name="no_longer_opens"),
]
