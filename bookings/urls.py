from django.urls import path

from bookings.views import consent, diary, enquiries, learning, pieces, tablet, visit

app_name = "bookings"

urlpatterns = [
    path("diary/", diary.diary, name="diary"),
    path("families/<int:pk>/book/", diary.book_sitting, name="book_sitting"),
    path("jobs/<reference:reference>/book-again/", diary.book_again, name="book_again"),
    path("sittings/<int:pk>/move/", diary.move_sitting, name="move_sitting"),
    path("sittings/<int:pk>/cancel/", diary.cancel_sitting, name="cancel_sitting"),
    path("sittings/<int:pk>/", visit.sitting, name="sitting"),
    path("sittings/<int:pk>/entries/<uuid:key>/", tablet.settle_entry, name="settle_entry"),
    path("tablet/photos/<uuid:key>/", tablet.tablet_photo, name="tablet_photo"),
    path("tablet-file/", tablet.import_tablet_file, name="import_tablet_file"),
    path("sittings/<int:pk>/finish/", visit.finish_sitting, name="finish_sitting"),
    path("impressions/<int:pk>/log/", visit.log_impression, name="log_impression"),
    path("families/<int:pk>/consent/", consent.give_consent, name="give_consent"),
    path("consents/<int:pk>/withdraw/", consent.withdraw_consent, name="withdraw_consent"),
    path("jobs/<reference:reference>/photos/add/", consent.add_photo, name="add_photo"),
    path("families/<int:pk>/photos/erase/", consent.erase_photos, name="erase_photos"),
    path("diary/learning/", learning.learning, name="learning"),
    path("p/<reference:reference>/<int:number>/", pieces.piece, name="piece"),
    path("sittings/<int:pk>/labels.pdf", pieces.labels_of_sitting, name="labels_of_sitting"),
    path("diary/<str:week>/labels.pdf", pieces.labels_of_week, name="labels_of_week"),
    path("photos/<uuid:public_id>/", consent.photo, name="photo"),
    path("enquiries/", enquiries.enquiries, name="enquiries"),
    path("enquiries/take/", enquiries.take_enquiry, name="take_enquiry"),
    path("enquiries/send/", enquiries.send_enquiry, name="send_enquiry"),
    path("enquiries/<int:pk>/family/", enquiries.answer_with_family, name="answer_with_family"),
    path(
        "enquiries/<int:pk>/new-family/",
        enquiries.answer_with_new_family,
        name="answer_with_new_family",
    ),
    path("enquiries/<int:pk>/decline/", enquiries.decline_enquiry, name="decline_enquiry"),
]
