"""Addresses of the Shelf: what is kept, how long it lasts, counting, bottles."""

from shop.staff.converters import path
from shop.staff.views import (
    bottles,
    count_sheets,
    lasting,
    paper,
    shelf,
    shelf_moves,
    shelf_points,
    shelf_seconds,
    use_rates,
)

shelf_room = [
    path("shelf", shelf.shelf_page, name="shelf"),
    path("shelf/new", shelf.item_new, name="shelf_new"),
    path("shelf/out", shelf_moves.out, name="shelf_out"),
    path("shelf/out/<shopno:number>", shelf_moves.take_back, name="shelf_back"),
    path("shelf/seconds", shelf_seconds.seconds, name="shelf_seconds"),
    path("shelf/how-long", shelf_points.points, name="shelf_points"),
    path("shelf/counts", count_sheets.counts, name="counts"),
    path("shelf/counts/<shopno:number>", count_sheets.count, name="count"),
    path("shelf/counts/<shopno:number>/paper", count_sheets.paper, name="count_paper"),
    path("shelf/counts/<shopno:number>/<shopno:line_number>", count_sheets.line, name="count_line"),
    path("shelf/lasts", lasting.lasts, name="lasts"),
    path("shelf/bottles", bottles.bottles, name="bottles"),
    path("shelf/bottles/new", bottles.bottles_new, name="bottles_new"),
    path("shelf/bottles/<bookno:number>", bottles.bottle, name="bottle"),
    path("shelf/count-sheet", paper.count_sheet, name="shelf_count_sheet"),
    path("item/<itemcode:code>", shelf.item_page, name="item"),
    path("item/<itemcode:code>/lasts", lasting.item_lasts, name="item_lasts"),
    path("item/<itemcode:code>/change", shelf.item_change, name="item_change"),
    path("item/<itemcode:code>/parts", shelf.item_recipe, name="item_recipe"),
    path("item/<itemcode:code>/count", shelf_moves.count, name="item_count"),
    path("item/<itemcode:code>/use", shelf_moves.use, name="item_use"),
    path("item/<itemcode:code>/use-rate", use_rates.use_rate, name="item_use_rate"),
    path("item/<itemcode:code>/scrap", shelf_moves.scrap, name="item_scrap"),
    path("item/<itemcode:code>/take-out", shelf_moves.take_out, name="item_take_out"),
]
