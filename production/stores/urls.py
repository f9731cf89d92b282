from django.urls import path

from production.stores import views

urlpatterns = [
    path("", views.stores, name="stores"),
    path("add/", views.add_material, name="add_material"),
    path("add/usual/", views.add_usual_materials, name="add_usual_materials"),
    path("count/", views.count_stock, name="count_stock"),
    path("purchases/", views.purchases, name="purchases"),
    path("purchases/list.pdf", views.purchase_list, name="purchase_list"),
    path("purchases/<int:pk>/close/", views.close_purchase, name="close_purchase"),
    path("lots/<int:pk>/write-off/", views.write_off, name="write_off"),
    path("lots/<int:pk>/adjust/", views.adjust_lot, name="adjust_lot"),
    path("lots/<int:pk>/cost/", views.correct_cost, name="correct_cost"),
    path("<int:pk>/", views.material, name="material"),
    path("<int:pk>/edit/", views.edit_material, name="edit_material"),
    path("<int:pk>/retire/", views.retire_material, name="retire_material"),
    path("<int:pk>/bring-back/", views.bring_back_material, name="bring_back_material"),
    path("<int:pk>/receive/", views.receive, name="receive"),
    path("<int:pk>/use/", views.use_by_hand, name="use_by_hand"),
    path("<int:pk>/order/", views.order_material, name="order_material"),
]
