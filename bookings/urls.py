from django.urls import path

from bookings.consent import views as consent_views
from bookings.diary import views as diary_views
from bookings.enquiries import views as enquiries_views
from bookings.labels import views as labels_views
from bookings.outcomes import views as outcomes_views
from bookings.photos import views as photos_views
from bookings.sittings import views as sittings_views
from bookings.tablet import views as tablet_views

app_name = "bookings"

urlpatterns = [
    path("diary/", diary_views.diary, name="diary"),
    path("families/<int:pk>/book/", diary_views.book_sitting, name="book_sitting"),
    path("jobs/<reference:reference>/book-again/", diary_views.book_again, name="book_again"),
    path("sittings/<int:pk>/move/", diary_views.move_sitting, name="move_sitting"),
    path("sittings/<int:pk>/cancel/", diary_views.cancel_sitting, name="cancel_sitting"),
    path("sittings/<int:pk>/", sittings_views.sitting, name="sitting"),
    path("sittings/<int:pk>/entries/<uuid:key>/", tablet_views.settle_entry, name="settle_entry"),
    path("tablet/photos/<uuid:key>/", tablet_views.tablet_photo, name="tablet_photo"),
    path("tablet-file/", tablet_views.import_tablet_file, name="import_tablet_file"),
    path("sittings/<int:pk>/finish/", sittings_views.finish_sitting, name="finish_sitting"),
    path("prints/<int:pk>/log/", sittings_views.log_print, name="log_print"),
    path("families/<int:pk>/consent/", consent_views.give_consent, name="give_consent"),
    path("consents/<int:pk>/withdraw/", consent_views.withdraw_consent, name="withdraw_consent"),
    path("jobs/<reference:reference>/photos/add/", photos_views.add_photo, name="add_photo"),
    path("families/<int:pk>/photos/erase/", photos_views.erase_photos, name="erase_photos"),
    path("diary/learning/", outcomes_views.learning, name="learning"),
    path("p/<reference:reference>/<int:number>/", labels_views.piece, name="piece"),
    path("sittings/<int:pk>/labels.pdf", labels_views.labels_of_sitting, name="labels_of_sitting"),
    path("diary/<str:week>/labels.pdf", labels_views.labels_of_week, name="labels_of_week"),
    path("photos/<uuid:public_id>/", photos_views.photo, name="photo"),
    path("enquiries/", enquiries_views.enquiries, name="enquiries"),
    path("enquiries/take/", enquiries_views.take_enquiry, name="take_enquiry"),
    path("enquiries/send/", enquiries_views.send_enquiry, name="send_enquiry"),
    path(
        "enquiries/<int:pk>/family/", enquiries_views.answer_with_family, name="answer_with_family"
    ),
    path(
        "enquiries/<int:pk>/new-family/",
        enquiries_views.answer_with_new_family,
        name="answer_with_new_family",
    ),
    path("enquiries/<int:pk>/decline/", enquiries_views.decline_enquiry, name="decline_enquiry"),
]
