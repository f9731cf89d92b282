from django.urls import path

from production.bench import views as bench
from production.frames import views as frames
from production.planning import views as planning
from production.spoilage import views as spoilage
from production.stores import views as stores
from production.weekly_sheet import views as weekly_sheet
from production.working_week import views as working_week
from production.workshop import views as workshop

app_name = "production"

urlpatterns = [
    path("bench/", bench.bench, name="bench"),
    path("bench/pour/", bench.pour, name="pour"),
    path("bench/rack/", bench.rack, name="rack"),
    path("bench/room/", workshop.read_room, name="read_room"),
    path("bench/pieces/<int:pk>/mould/", workshop.measure_mould, name="measure_mould"),
    path("unit/workshop/", workshop.workshop, name="workshop"),
    path("unit/workshop/edit/", workshop.edit_workshop, name="edit_workshop"),
    path("unit/plasters/add/", workshop.add_plaster, name="add_plaster"),
    path("unit/plasters/<int:pk>/edit/", workshop.edit_plaster, name="edit_plaster"),
    path("unit/plasters/<int:pk>/away/", workshop.put_plaster_away, name="put_plaster_away"),
    path("bench/casts/<int:pk>/demould/", bench.demould, name="demould"),
    path("bench/casts/<int:pk>/weigh/", bench.weigh, name="weigh"),
    path("bench/casts/<int:pk>/place/", bench.place_on_rack, name="place_on_rack"),
    path("bench/casts/<int:pk>/release/", bench.release_dry, name="release_dry"),
    path("bench/casts/<int:pk>/spoil/", bench.spoil_piece, name="spoil_piece"),
    path("bench/weighings/<int:pk>/strike/", bench.strike_weighing, name="strike_weighing"),
    path("bench/frames/<reference:reference>/start/", bench.start_framing, name="start_framing"),
    path("bench/frames/<reference:reference>/tick/", bench.tick_frame, name="tick_frame"),
    path("bench/frames/<reference:reference>/ready/", bench.make_ready, name="make_ready"),
    path("bench/frames/<reference:reference>/reopen/", bench.reopen_frame, name="reopen_frame"),
    path("bench/spoilage/", spoilage.spoilage, name="spoilage"),
    path("bench/spoilage/reasons/add/", spoilage.add_spoil_reason, name="add_spoil_reason"),
    path(
        "bench/spoilage/reasons/<int:pk>/end/", spoilage.end_spoil_reason, name="end_spoil_reason"
    ),
    path("bench/tick-off/", weekly_sheet.tick_off, name="tick_off"),
    path("bench/plan/", planning.plan, name="plan"),
    path("bench/plan/ask/", planning.ask_plan, name="ask_plan"),
    path("bench/plan/anew/", planning.plan_anew, name="plan_anew"),
    path("bench/plan/<reference:reference>/pin/", planning.pin_step, name="pin_step"),
    path("bench/plan/<reference:reference>/unpin/", planning.unpin_step, name="unpin_step"),
    path(
        "bench/plan/<reference:reference>/courier/",
        planning.send_by_courier,
        name="send_by_courier",
    ),
    path("frames/", frames.frames, name="frames"),
    path("frames/cutting.pdf", frames.cutting_paper, name="cutting_paper"),
    path("frames/cut/", frames.confirm_cutting, name="confirm_cutting"),
    path("frames/cuttings/<int:pk>/", frames.cutting, name="cutting"),
    path("frames/cuttings/<int:pk>/labels.pdf", frames.offcut_labels, name="offcut_labels"),
    path("frames/offcuts/add/", frames.add_offcut, name="add_offcut"),
    path("frames/offcuts/<int:pk>/label.pdf", frames.offcut_label, name="offcut_label"),
    path("frames/offcuts/<int:pk>/throw-away/", frames.throw_away_offcut, name="throw_away_offcut"),
    path("frames/<reference:reference>/", frames.choose_frame, name="choose_frame"),
    path("unit/frames/", frames.frame_range, name="frame_range"),
    path("unit/frames/edit/", frames.edit_frame_habits, name="edit_frame_habits"),
    path("unit/frames/mouldings/add/", frames.add_moulding, name="add_moulding"),
    path("unit/frames/mouldings/<int:pk>/", frames.edit_moulding, name="edit_moulding"),
    path("unit/frames/mouldings/<int:pk>/retire/", frames.retire_moulding, name="retire_moulding"),
    path("unit/frames/sizes/add/", frames.add_frame_size, name="add_frame_size"),
    path("unit/frames/sizes/<int:pk>/drop/", frames.drop_frame_size, name="drop_frame_size"),
    path("unit/week/", working_week.working_week, name="working_week"),
    path("unit/week/edit/", working_week.edit_working_week, name="edit_working_week"),
    path("unit/week/other-days/add/", working_week.add_other_days, name="add_other_days"),
    path(
        "unit/week/other-days/<int:pk>/drop/",
        working_week.drop_other_days,
        name="drop_other_days",
    ),
    path("bench/weeks/", weekly_sheet.this_week, name="this_week"),
    path("bench/weeks/<str:week>/", weekly_sheet.week, name="week"),
    path("bench/weeks/<str:week>/sheet.pdf", weekly_sheet.weekly_sheet, name="weekly_sheet"),
    path("bench/weeks/<str:week>/print/", weekly_sheet.print_week, name="print_week"),
    path("stores/", stores.stores, name="stores"),
    path("stores/add/", stores.add_material, name="add_material"),
    path("stores/add/usual/", stores.add_usual_materials, name="add_usual_materials"),
    path("stores/count/", stores.count_stock, name="count_stock"),
    path("stores/purchases/", stores.purchases, name="purchases"),
    path("stores/purchases/list.pdf", stores.purchase_list, name="purchase_list"),
    path("stores/purchases/<int:pk>/close/", stores.close_purchase, name="close_purchase"),
    path("stores/lots/<int:pk>/write-off/", stores.write_off, name="write_off"),
    path("stores/lots/<int:pk>/adjust/", stores.adjust_lot, name="adjust_lot"),
    path("stores/lots/<int:pk>/cost/", stores.correct_cost, name="correct_cost"),
    path("stores/<int:pk>/", stores.material, name="material"),
    path("stores/<int:pk>/edit/", stores.edit_material, name="edit_material"),
    path("stores/<int:pk>/retire/", stores.retire_material, name="retire_material"),
    path("stores/<int:pk>/bring-back/", stores.bring_back_material, name="bring_back_material"),
    path("stores/<int:pk>/receive/", stores.receive, name="receive"),
    path("stores/<int:pk>/use/", stores.use_by_hand, name="use_by_hand"),
    path("stores/<int:pk>/order/", stores.order_material, name="order_material"),
]
