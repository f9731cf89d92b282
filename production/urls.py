from django.urls import path

from production import views

app_name = "production"

urlpatterns = [
    path("bench/", views.bench, name="bench"),
    path("bench/pour/", views.pour, name="pour"),
    path("bench/casts/<int:pk>/demould/", views.demould, name="demould"),
    path("bench/casts/<int:pk>/weigh/", views.weigh, name="weigh"),
    path("bench/casts/<int:pk>/place/", views.place_on_rack, name="place_on_rack"),
    path("bench/casts/<int:pk>/release/", views.release_dry, name="release_dry"),
    path("bench/casts/<int:pk>/spoil/", views.spoil_piece, name="spoil_piece"),
    path("bench/weighings/<int:pk>/strike/", views.strike_weighing, name="strike_weighing"),
    path("bench/frames/<reference:reference>/start/", views.start_framing, name="start_framing"),
    path("bench/frames/<reference:reference>/tick/", views.tick_frame, name="tick_frame"),
    path("bench/frames/<reference:reference>/ready/", views.make_ready, name="make_ready"),
    path("bench/frames/<reference:reference>/reopen/", views.reopen_frame, name="reopen_frame"),
    path("bench/weeks/", views.this_week, name="this_week"),
    path("bench/weeks/<str:week>/", views.week, name="week"),
    path("bench/weeks/<str:week>/sheet.pdf", views.weekly_sheet, name="weekly_sheet"),
]
