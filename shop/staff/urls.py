"""Addresses of the pages, room by room; each has its line in shop/access/roles.py."""

from django.urls import path, register_converter

from shop.staff import converters
from shop.staff.views import (
    access,
    book,
    buying,
    certificates,
    counter,
    customers,
    day,
    door,
    doubt,
    grades,
    holds,
    labels,
    melts,
    move_in,
    orders,
    owner,
    paper,
    rack,
    rack_moves,
    saw,
    second_look,
    sending,
    shelf,
    shelf_moves,
    shelf_points,
    shelf_steps,
    tracing,
)

app_name = "staff"

register_converter(converters.Number, "shopno")
register_converter(converters.BookNumber, "bookno")
register_converter(converters.Code, "itemcode")
register_converter(converters.BarNumber, "barno")

coming_in = [
    path("login", access.login, name="login"),
    path("logout", access.logout, name="logout"),
    path("here", access.tiles, name="here"),
    path("start/<str:token>", access.start, name="start"),
    path("my-password", access.own_password, name="own_password"),
]
owners_desk = [
    path("people", owner.people_list, name="people"),
    path("people/<int:person_id>", owner.person, name="person"),
    path("people/<int:person_id>/password", owner.person_password, name="person_password"),
    path("tablets", owner.tablet_list, name="tablets"),
    path("tablets/<int:tablet_id>/revoke", owner.tablet_revoke, name="tablet_revoke"),
    path("keys", owner.key_list, name="keys"),
    path("keys/<int:key_id>/revoke", owner.key_revoke, name="key_revoke"),
    path("links", owner.link_list, name="links"),
    path("links/<int:link_id>/revoke", owner.link_revoke, name="link_revoke"),
    path("settings", owner.settings, name="settings"),
]

day_room = [path("", day.day, name="day")]
door_room = [
    path("door", door.door, name="door"),
    path("door/new", door.begin, name="delivery_begin"),
    path("door/new/<shopno:number>", door.begin_for, name="delivery_new"),
    path("door/measure", door.measure, name="door_measure"),
    path("door/order", buying.order_new, name="door_order_new"),
    path("door/order/<shopno:number>", buying.order, name="door_order"),
    path("door/order/<shopno:number>/close", buying.order_close, name="door_order_close"),
    path("door/moving-in", move_in.move_in, name="move_in"),
    path("door/<shopno:number>", door.delivery, name="delivery"),
    path("door/<shopno:number>/look", second_look.look, name="door_look"),
    path("door/<shopno:number>/line/<shopno:line_number>", second_look.answer, name="door_answer"),
    path("door/<shopno:number>/claim", second_look.claim, name="door_claim"),
    path("door/<shopno:number>/photo", second_look.photo, name="door_photo"),
    path("door/claim/<bookno:number>", second_look.claim_follow, name="door_claim_follow"),
    path("door/photo/<bookno:number>", second_look.photo_file, name="door_photo_file"),
]
rack_room = [
    path("rack", rack.rack_page, name="rack"),
    path("rack/slots", rack.slots, name="rack_slots"),
    path("rack/slot/<itemcode:code>", rack.slot, name="rack_slot"),
    path("rack/labels", labels.labels, name="rack_labels"),
    path("rack/not-to-be-used", rack.not_used, name="rack_not_used"),
    path("rack/bar/<barno:number>", rack.bar_page, name="rack_bar"),
    path("rack/bar/<barno:number>/measure", rack_moves.measure, name="rack_bar_measure"),
    path("rack/bar/<barno:number>/length", rack_moves.correct, name="rack_bar_length"),
    path("rack/bar/<barno:number>/move", rack_moves.move, name="rack_bar_move"),
    path("rack/bar/<barno:number>/saw", saw.cut, name="rack_bar_saw"),
    path("rack/bar/<barno:number>/in-two", saw.in_two, name="rack_bar_in_two"),
    path("rack/bar/<barno:number>/own-tooling", saw.own, name="rack_bar_own"),
    path("rack/bar/<barno:number>/paint-lost", saw.paint_lost, name="rack_bar_paint_lost"),
    path("rack/bar/<barno:number>/sizes", saw.sizes, name="rack_bar_sizes"),
    path("rack/bar/<barno:number>/scrap", rack_moves.scrap, name="rack_bar_scrap"),
    path("rack/lot/<bookno:number>/not-to-be-used", rack_moves.shut, name="rack_lot_shut"),
    path("rack/lot/<bookno:number>/use-again", rack_moves.clear, name="rack_lot_clear"),
    path("rack/grades", grades.grades, name="grades"),
    path("rack/grade/<shopno:number>", grades.grade, name="grade"),
    path("rack/grade/<shopno:number>/limits", grades.row_new, name="grade_row_new"),
    path("rack/grade/<shopno:number>/density", grades.density, name="grade_density"),
    path("rack/limits/<bookno:number>", grades.row_change, name="grade_row"),
    path("rack/limits/<bookno:number>/drop", grades.row_drop, name="grade_row_drop"),
    path("rack/melt/<bookno:number>/certificate", certificates.file, name="melt_certificate"),
    path("rack/melt/<bookno:number>/certificate-awaited", certificates.wait_for, name="certificate_await"),
    path("rack/certificate/<bookno:number>", certificates.certificate, name="certificate"),
    path("rack/certificate/<bookno:number>/paper", certificates.paper, name="certificate_paper"),
    path("rack/certificate/<bookno:number>/take-back", certificates.take_back, name="certificate_take_back"),
    path("rack/lot/<bookno:number>/scrap", doubt.scrap, name="rack_lot_scrap"),
    path("rack/melt/<bookno:number>/not-to-be-used", doubt.melt, name="rack_melt_shut"),
    path("rack/lot/<bookno:number>/mill-heat", rack_moves.heat, name="rack_lot_heat"),
]
shelf_room = [
    path("shelf", shelf.shelf_page, name="shelf"),
    path("shelf/new", shelf.item_new, name="shelf_new"),
    path("shelf/out", shelf_moves.out, name="shelf_out"),
    path("shelf/out/<shopno:number>", shelf_moves.take_back, name="shelf_back"),
    path("shelf/how-long", shelf_points.points, name="shelf_points"),
    path("shelf/count-sheet", paper.count_sheet, name="shelf_count_sheet"),
    path("item/<itemcode:code>", shelf.item_page, name="item"),
    path("item/<itemcode:code>/change", shelf.item_change, name="item_change"),
    path("item/<itemcode:code>/parts", shelf.item_recipe, name="item_recipe"),
    path("item/<itemcode:code>/count", shelf_moves.count, name="item_count"),
    path("item/<itemcode:code>/use", shelf_moves.use, name="item_use"),
    path("item/<itemcode:code>/scrap", shelf_moves.scrap, name="item_scrap"),
    path("item/<itemcode:code>/step", shelf_steps.step_on, name="item_step"),
    path("item/<itemcode:code>/take-out", shelf_moves.take_out, name="item_take_out"),
]
counter_room = [
    path("counter", counter.counter, name="counter"),
    path("counter/take", counter.take, name="counter_take"),
    path("counter/customers", customers.customers, name="counter_customers"),
    path("counter/customers/new", customers.customer_new, name="customer_new"),
    path("counter/customers/<shopno:number>", customers.customer, name="customer"),
    path("counter/holds", holds.holds, name="counter_holds"),
    path("counter/holds/<shopno:number>", holds.hold, name="hold"),
    path("counter/holds/<shopno:number>/order", holds.hold_order, name="hold_order"),
    path("counter/returns", sending.returns, name="counter_returns"),
    path("counter/returns/<shopno:number>", sending.inspect, name="return"),
    path("order/<shopno:number>", counter.order, name="order"),
    path("order/<shopno:number>/change", orders.order_change, name="order_change"),
    path("order/<shopno:number>/add", orders.order_add, name="order_add"),
    path("order/<shopno:number>/line/<shopno:line_number>", orders.order_line, name="order_line"),
    path("order/<shopno:number>/line/<shopno:line_number>/file", orders.order_file, name="order_file"),
    path("order/<shopno:number>/money", orders.order_money, name="order_money"),
    path("order/<shopno:number>/day", orders.order_day, name="order_day"),
    path("order/<shopno:number>/cancel", orders.order_cancel, name="order_cancel"),
    path("order/<shopno:number>/send", sending.send, name="order_send"),
    path("shipment/<shopno:number>", sending.shipment, name="shipment"),
    path("shipment/<shopno:number>/slip", paper.packing_slip, name="packing_slip"),
    path("shipment/<shopno:number>/back", sending.come_back, name="shipment_back"),
]
book_room = [
    path("book", book.book, name="book"),
    path("book/line/<bookno:number>", book.entry, name="book_entry"),
    path("book/trace", tracing.seek, name="book_trace"),
    path("book/lot/<bookno:number>", tracing.lot, name="book_lot"),
    path("book/melt/<bookno:number>", tracing.melt, name="book_melt"),
    path("book/melt/<bookno:number>/went-into.csv", melts.table, name="melt_went_into"),
    path("book/order/<shopno:number>", tracing.order, name="book_order"),
]

urlpatterns = [
    *coming_in,
    *owners_desk,
    *day_room,
    *door_room,
    *rack_room,
    *shelf_room,
    *counter_room,
    *book_room,
]
