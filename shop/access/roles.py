"""Who may do what: one table of pages and one of API addresses. What stands in neither is refused to everybody.

A page is named as in the URL conf (`staff:rack`); each method it answers has the least role that may use it. HEAD goes
with GET. An API address (`api:items`) has a scope for each method instead. Whoever adds a page adds its line here;
the test of this table walks the URL conf and knocks at every door in every role.
"""

from typing import Protocol

ANYONE = "anyone"  # also somebody who has not said who they are
TABLET = "tablet"  # an enrolled tablet, whoever is at it, or anybody who has come in
HAND = "hand"
DESK = "desk"
OWNER = "owner"
_RANK = {ANYONE: 0, TABLET: 1, HAND: 2, DESK: 3, OWNER: 4}

Lines = dict[str, dict[str, str]]

PAGES: Lines = {
    # The service itself
    "livez": {"GET": ANYONE},
    "feed": {"GET": ANYONE},  # the secret in the address is looked at by the view
    # Coming in
    "staff:login": {"GET": ANYONE, "POST": ANYONE},
    "staff:logout": {"POST": ANYONE},
    "staff:here": {"GET": TABLET, "POST": TABLET},
    "staff:start": {"GET": ANYONE, "POST": ANYONE},
    "staff:own_password": {"GET": HAND, "POST": HAND},
    # The owner's desk
    "staff:people": {"GET": OWNER, "POST": OWNER},
    "staff:person": {"GET": OWNER, "POST": OWNER},
    "staff:person_password": {"POST": OWNER},
    "staff:tablets": {"GET": OWNER, "POST": OWNER},
    "staff:tablet_revoke": {"POST": OWNER},
    "staff:keys": {"GET": OWNER, "POST": OWNER},
    "staff:key_revoke": {"POST": OWNER},
    "staff:links": {"GET": OWNER, "POST": OWNER},
    "staff:link_revoke": {"POST": OWNER},
    "staff:settings": {"GET": OWNER, "POST": OWNER},
    "staff:settings_buying": {"GET": OWNER, "POST": OWNER},
    "staff:settings_letters": {"GET": OWNER, "POST": OWNER},
    "staff:shut_days": {"GET": OWNER, "POST": OWNER},
    # Day
    "staff:day": {"GET": HAND},
    "staff:out": {"GET": HAND, "POST": HAND},
    "staff:down": {"GET": HAND, "POST": HAND},
    "staff:week": {"GET": HAND, "POST": DESK},
    # Door
    "staff:door": {"GET": HAND},
    "staff:delivery_begin": {"GET": HAND, "POST": HAND},
    "staff:delivery_new": {"GET": HAND, "POST": HAND},
    "staff:delivery": {"GET": HAND, "POST": HAND},
    "staff:door_measure": {"GET": HAND, "POST": HAND},
    "staff:door_look": {"GET": HAND, "POST": HAND},
    "staff:door_answer": {"GET": HAND, "POST": HAND},
    "staff:door_claim": {"GET": DESK, "POST": DESK},
    "staff:door_claim_follow": {"GET": DESK, "POST": DESK},
    "staff:door_photo": {"GET": HAND, "POST": HAND},
    "staff:door_photo_file": {"GET": HAND},
    "staff:door_order_new": {"GET": DESK, "POST": DESK},
    "staff:door_order": {"GET": DESK, "POST": DESK},
    "staff:door_order_close": {"GET": DESK, "POST": DESK},
    "staff:door_order_change": {"GET": DESK, "POST": DESK},
    "staff:door_order_line": {"GET": DESK, "POST": DESK},
    "staff:door_order_paper": {"GET": DESK},
    "staff:door_order_send": {"GET": DESK, "POST": DESK},
    "staff:door_order_asked": {"GET": DESK, "POST": DESK},
    "staff:suppliers": {"GET": DESK, "POST": DESK},
    "staff:supplier_terms": {"GET": DESK, "POST": DESK},
    "staff:supplier_prices": {"GET": DESK, "POST": DESK},
    "staff:supplier": {"GET": DESK},
    "staff:move_in": {"GET": DESK, "POST": DESK},
    # Rack
    "staff:rack": {"GET": HAND},
    "staff:rack_slots": {"GET": HAND, "POST": DESK},
    "staff:rack_slot": {"GET": HAND},
    "staff:rack_labels": {"GET": HAND},
    "staff:rack_not_used": {"GET": HAND},
    "staff:rack_bar": {"GET": HAND},
    "staff:rack_bar_measure": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_length": {"GET": DESK, "POST": DESK},
    "staff:rack_bar_saw": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_in_two": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_own": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_paint_lost": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_sizes": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_move": {"GET": HAND, "POST": HAND},
    "staff:rack_bar_scrap": {"GET": HAND, "POST": HAND},
    "staff:rack_lot_shut": {"GET": HAND, "POST": HAND},
    "staff:rack_lot_clear": {"GET": OWNER, "POST": OWNER},
    "staff:cut_plans": {"GET": HAND},
    "staff:cut_plan_new": {"GET": HAND, "POST": HAND},
    "staff:cut_plan": {"GET": HAND, "POST": HAND},
    "staff:cut_plan_sheet": {"GET": HAND},
    "staff:cut_plan_otherwise": {"GET": HAND, "POST": HAND},
    "staff:cut_plan_leave": {"GET": HAND, "POST": HAND},
    "staff:cut_rules": {"GET": DESK, "POST": DESK},
    "staff:blade_new": {"GET": HAND, "POST": HAND},
    "staff:blade": {"GET": HAND, "POST": HAND},
    "staff:grades": {"GET": HAND},
    "staff:grade": {"GET": HAND},
    "staff:grade_row_new": {"GET": DESK, "POST": DESK},
    "staff:grade_density": {"GET": DESK, "POST": DESK},
    "staff:grade_row": {"GET": DESK, "POST": DESK},
    "staff:grade_row_drop": {"GET": DESK, "POST": DESK},
    "staff:melt_certificate": {"GET": HAND, "POST": HAND},
    "staff:certificate_await": {"GET": HAND, "POST": HAND},
    "staff:certificate": {"GET": HAND},
    "staff:certificate_paper": {"GET": HAND},
    "staff:certificate_take_back": {"GET": DESK, "POST": DESK},
    "staff:rack_lot_scrap": {"GET": OWNER, "POST": OWNER},
    "staff:rack_melt_shut": {"GET": HAND, "POST": HAND},
    "staff:rack_lot_heat": {"GET": DESK, "POST": DESK},
    # Shelf
    "staff:shelf": {"GET": HAND},
    "staff:shelf_seconds": {"GET": HAND},
    "staff:counts": {"GET": HAND, "POST": HAND},
    "staff:count": {"GET": HAND, "POST": HAND},
    "staff:count_paper": {"GET": HAND},
    "staff:count_line": {"GET": HAND, "POST": HAND},
    "staff:bottles": {"GET": HAND},
    "staff:lasts": {"GET": HAND},
    "staff:item_lasts": {"GET": HAND},
    "staff:to_order": {"GET": DESK},
    "staff:bottles_new": {"GET": DESK, "POST": DESK},
    "staff:bottle": {"GET": HAND, "POST": HAND},
    # Floor
    "staff:floor": {"GET": HAND},
    "staff:floor_start": {"GET": HAND},
    "staff:floor_start_one": {"GET": HAND, "POST": HAND},
    "staff:floor_open": {"POST": HAND},
    "staff:floor_away": {"GET": HAND, "POST": HAND},
    "staff:floor_tally": {"GET": HAND, "POST": HAND},
    "staff:floor_note": {"GET": HAND, "POST": HAND},
    "staff:floor_tooling": {"GET": HAND, "POST": HAND},
    "staff:floor_oven": {"GET": HAND, "POST": HAND},
    "staff:floor_load": {"GET": HAND, "POST": HAND},
    "staff:floor_reading": {"POST": HAND},
    "staff:floor_rejects": {"GET": HAND},
    "staff:floor_patterns": {"GET": HAND},
    "staff:floor_pattern_new": {"GET": DESK, "POST": DESK},
    "staff:floor_machine_new": {"GET": DESK, "POST": DESK},
    "staff:floor_tooling_new": {"GET": DESK, "POST": DESK},
    "staff:floor_pattern": {"GET": HAND, "POST": DESK},
    "staff:floor_step": {"GET": DESK, "POST": DESK},
    "staff:floor_handles": {"GET": HAND, "POST": HAND},
    "staff:floor_run": {"GET": HAND, "POST": HAND},
    "staff:floor_count": {"GET": HAND, "POST": HAND},
    "staff:floor_evening": {"GET": HAND, "POST": HAND},
    "staff:floor_haft": {"GET": HAND, "POST": HAND},
    "staff:floor_pack": {"GET": HAND, "POST": HAND},
    "staff:floor_part": {"GET": HAND, "POST": HAND},
    "staff:floor_join": {"GET": HAND, "POST": HAND},
    "staff:floor_sheet": {"GET": HAND},
    "staff:floor_tags": {"GET": HAND},
    # Pieces brought in
    "staff:counter_mending": {"GET": HAND},
    "staff:mending_new": {"GET": DESK, "POST": DESK},
    "staff:mending": {"GET": HAND, "POST": HAND},
    "staff:shelf_new": {"GET": DESK, "POST": DESK},
    "staff:shelf_out": {"GET": HAND},
    "staff:shelf_back": {"GET": HAND, "POST": HAND},
    "staff:shelf_count_sheet": {"GET": HAND},
    "staff:item_use_rate": {"GET": DESK, "POST": DESK},
    "staff:shelf_points": {"GET": DESK, "POST": DESK},
    "staff:item": {"GET": HAND, "POST": HAND},
    "staff:item_change": {"GET": DESK, "POST": DESK},
    "staff:item_recipe": {"GET": DESK, "POST": DESK},
    "staff:item_count": {"GET": HAND, "POST": HAND},
    "staff:item_use": {"GET": HAND, "POST": HAND},
    "staff:item_scrap": {"GET": HAND, "POST": HAND},
    "staff:item_take_out": {"GET": HAND, "POST": HAND},
    # Counter
    "staff:counter": {"GET": HAND},
    "staff:counter_take": {"GET": DESK, "POST": DESK},
    "staff:counter_ask": {"GET": DESK, "POST": DESK},
    "staff:counter_asked": {"GET": DESK, "POST": DESK},
    "staff:counter_asked_ideas": {"GET": DESK},
    "staff:counter_asked_not_taken": {"POST": DESK},
    "staff:order_day_asked": {"GET": DESK, "POST": DESK},
    "staff:order_confirm": {"GET": DESK, "POST": DESK},
    "staff:counter_queue": {"GET": DESK},
    "staff:order_queue": {"GET": DESK, "POST": OWNER},
    "staff:counter_last_day": {"GET": DESK},
    "staff:order_let_go": {"GET": DESK, "POST": DESK},
    "staff:counter_customers": {"GET": DESK},
    "staff:customer_new": {"GET": DESK, "POST": DESK},
    "staff:customer": {"GET": DESK, "POST": DESK},
    "staff:customer_owed": {"GET": DESK},
    "staff:customer_owed_csv": {"GET": DESK},
    "staff:counter_owed": {"GET": DESK},
    "staff:counter_owed_csv": {"GET": DESK},
    "staff:counter_short": {"GET": DESK},
    "staff:counter_shares": {"GET": DESK, "POST": DESK},
    "staff:counter_releases": {"GET": DESK, "POST": DESK},
    "staff:release": {"GET": DESK, "POST": DESK},
    "staff:release_paste": {"GET": DESK, "POST": DESK},
    "staff:counter_holds": {"GET": HAND, "POST": DESK},
    "staff:hold": {"GET": HAND, "POST": DESK},
    "staff:hold_order": {"GET": DESK, "POST": DESK},
    "staff:counter_record": {"GET": HAND},
    "staff:counter_returns": {"GET": HAND},
    "staff:return": {"GET": HAND, "POST": HAND},
    "staff:order": {"GET": HAND},
    "staff:order_change": {"GET": DESK, "POST": DESK},
    "staff:order_add": {"GET": DESK, "POST": DESK},
    "staff:order_line": {"GET": DESK, "POST": DESK},
    "staff:order_file": {"GET": HAND},
    "staff:order_money": {"GET": DESK, "POST": DESK},
    "staff:order_day": {"GET": DESK, "POST": DESK},
    "staff:order_cancel": {"GET": DESK, "POST": DESK},
    "staff:order_notice": {"GET": DESK, "POST": DESK},
    "staff:order_notice_answer": {"GET": DESK, "POST": DESK},
    "staff:order_notice_refund": {"GET": DESK, "POST": DESK},
    "staff:order_send": {"GET": HAND, "POST": HAND},
    "staff:shipment": {"GET": HAND},
    "staff:packing_slip": {"GET": HAND},
    "staff:shipment_back": {"GET": HAND, "POST": HAND},
    # Book
    "staff:book": {"GET": HAND},
    "staff:book_entry": {"GET": HAND, "POST": HAND},  # one's own; somebody else's only the owner, see the view
    "staff:book_trace": {"GET": HAND},
    "staff:book_lot": {"GET": HAND},
    "staff:book_melt": {"GET": HAND},
    "staff:melt_went_into": {"GET": DESK},
    "staff:book_order": {"GET": HAND},
    # To read
    "staff:help_dates": {"GET": HAND},
}

# What a key can be allowed to do, in words for the page that makes one.
SCOPES: dict[str, str] = {
    "availability:read": "read what can be promised",
    "stock:read": "read items, bars, lots and deliveries",
    "stock:write": "change items and the grade book, order from suppliers, book deliveries and take-outs",
    "steel:decide": "use steel again that was not to be used, or scrap it",
    "shop:read": "read hours, shut days, who is out and what is down",
    "shop:write": "note shut days, who is out and what is down",
    "orders:read": "read orders, holds and shipments",
    "orders:write": "take and change orders, put by, set aside, ship",
    "queue:write": "move orders in the queue",
    "addresses:read": "see customers' names and addresses",
    "costs:read": "see what steel and goods cost",
}
OPEN = "open"  # an API address that needs no key
ANY_KEY = "any key"  # an API address that answers every key

API: Lines = {
    # The API about itself
    "api:me": {"GET": ANY_KEY},
    "api:openapi": {"GET": OPEN},
    "api:docs": {"GET": OPEN},
    "api:docs_script": {"GET": OPEN},
    "api:problem": {"GET": OPEN},
    # The shop's hours, who is out, what is down
    "api:settings": {"GET": "shop:read"},
    "api:shut_days": {"GET": "shop:read", "POST": "shop:write"},
    "api:shut_days_one": {"GET": "shop:read", "DELETE": "shop:write"},
    "api:week": {"GET": "shop:read"},
    "api:week_shelf": {"GET": "shop:read", "POST": "shop:write"},
    "api:week_shelf_one": {"GET": "shop:read", "PATCH": "shop:write", "DELETE": "shop:write"},
    "api:week_pins": {"POST": "shop:write"},
    "api:week_pin": {"GET": "shop:read", "DELETE": "shop:write"},
    "api:absences": {"GET": "shop:read", "POST": "shop:write"},
    "api:absence_back": {"POST": "shop:write"},
    "api:machines_down": {"GET": "shop:read", "POST": "shop:write"},
    "api:machine_runs_again": {"POST": "shop:write"},
    # What can be promised
    "api:availabilities": {"GET": "availability:read"},
    "api:availability": {"GET": "availability:read"},
    # Stock
    "api:items": {"GET": "stock:read"},
    "api:item": {"GET": "stock:read"},
    "api:bars": {"GET": "stock:read"},
    "api:bar": {"GET": "stock:read"},
    "api:lots": {"GET": "stock:read"},
    "api:lot": {"GET": "stock:read"},
    "api:deliveries": {"GET": "stock:read", "POST": "stock:write"},
    "api:delivery": {"GET": "stock:read"},
    "api:purchase_orders": {"GET": "stock:read", "POST": "stock:write"},
    "api:purchase_order": {"GET": "stock:read", "PATCH": "stock:write"},
    "api:purchase_send": {"POST": "stock:write"},
    "api:purchase_confirm": {"POST": "stock:write"},
    "api:purchase_asked": {"POST": "stock:write"},
    "api:purchase_close": {"POST": "stock:write"},
    "api:purchase_line_cancel": {"POST": "stock:write"},
    "api:suppliers": {"GET": "costs:read"},
    "api:supplier_terms": {"GET": "costs:read", "POST": "stock:write"},
    "api:supplier_prices": {"GET": "costs:read", "POST": "stock:write"},
    "api:supplier_price": {"POST": "stock:write"},
    "api:supplier_record": {"GET": "stock:read"},
    "api:delivery_checks": {"GET": "stock:read", "POST": "stock:write"},
    "api:delivery_answers": {"POST": "stock:write"},
    "api:melts": {"GET": "stock:read"},
    "api:melt": {"GET": "stock:read"},
    "api:melt_went_into": {"GET": "stock:read"},
    "api:delivery_claims": {"POST": "stock:write"},
    "api:lot_shut": {"POST": "stock:write"},
    "api:lot_use_again": {"POST": "steel:decide"},  # the owner's on the pages, so no key that only writes stock may
    "api:lot_scrap": {"POST": "steel:decide"},
    "api:melt_shut": {"POST": "stock:write"},
    "api:bar_paint_lost": {"POST": "stock:write"},
    "api:cuts": {"GET": "stock:read"},
    "api:bar_cut": {"POST": "stock:write"},
    "api:cut_plans": {"GET": "stock:read", "POST": "stock:write"},
    "api:cut_plan": {"GET": "stock:read"},
    "api:cut_plan_take": {"POST": "stock:write"},
    "api:cut_plan_sawn": {"POST": "stock:write"},
    "api:cut_plan_leave": {"POST": "stock:write"},
    "api:cut_plan_drop": {"POST": "stock:write"},
    "api:saws": {"GET": "stock:read", "POST": "stock:write"},
    "api:saw": {"GET": "stock:read", "PUT": "stock:write"},
    "api:floor": {"GET": "stock:read"},
    "api:floor_counts": {"POST": "stock:write"},
    "api:reorder": {"GET": "stock:read"},
    "api:reorder_one": {"GET": "stock:read"},
    "api:purchase_proposals": {"GET": "stock:read"},
    "api:count_sheets": {"GET": "stock:read", "POST": "stock:write"},
    "api:count_sheet": {"GET": "stock:read"},
    "api:count_line": {"POST": "stock:write"},
    "api:count_close": {"POST": "stock:write"},
    "api:count_accuracy": {"GET": "stock:read"},
    "api:bottles": {"GET": "stock:read", "POST": "stock:write"},
    "api:bottle_read": {"POST": "stock:write"},
    "api:bottle_put_in": {"POST": "stock:write"},
    "api:bottle_back": {"POST": "stock:write"},
    "api:floor_notes": {"POST": "stock:write"},
    "api:machines": {"GET": "stock:read", "POST": "stock:write"},
    "api:tooling": {"GET": "stock:read", "POST": "stock:write"},
    "api:tooling_changes": {"POST": "stock:write"},
    "api:lot_run": {"POST": "stock:write"},
    "api:lot_sorted": {"POST": "stock:write"},
    "api:patterns": {"GET": "stock:read", "POST": "stock:write"},
    "api:pattern": {"GET": "stock:read", "PATCH": "stock:write"},
    "api:pattern_route": {"PUT": "stock:write"},
    "api:pattern_starts": {"GET": "stock:read"},
    "api:pattern_afresh": {"POST": "stock:write"},
    "api:runs": {"GET": "stock:read", "POST": "stock:write"},
    "api:run": {"GET": "stock:read"},
    "api:run_counts": {"POST": "stock:write"},
    "api:reject_cause": {"POST": "stock:write"},
    "api:run_top_up": {"POST": "stock:write"},
    "api:run_part": {"POST": "stock:write"},
    "api:run_join": {"POST": "stock:write"},
    "api:run_hafted": {"POST": "stock:write"},
    "api:run_packed": {"POST": "stock:write"},
    "api:oven_loads": {"GET": "stock:read", "POST": "stock:write"},
    "api:oven_load": {"GET": "stock:read"},
    "api:oven_load_out": {"POST": "stock:write"},
    "api:oven_load_readings": {"POST": "stock:write"},
    "api:oven_reading_back": {"POST": "stock:write"},
    "api:pieces": {"GET": "orders:read", "POST": "orders:write"},
    "api:piece": {"GET": "orders:read"},
    "api:piece_done": {"POST": "stock:write"},
    "api:piece_back": {"POST": "orders:write"},
    "api:cut_rules": {"GET": "stock:read", "PUT": "stock:write"},
    "api:grades": {"GET": "stock:read"},
    "api:grade": {"GET": "stock:read"},
    "api:grade_limits": {"POST": "stock:write"},
    "api:grade_limits_row": {"GET": "stock:read", "PUT": "stock:write", "DELETE": "stock:write"},
    "api:grade_density": {"GET": "stock:read", "PUT": "stock:write"},
    "api:melt_certificates": {"GET": "stock:read", "POST": "stock:write"},
    "api:certificate": {"GET": "stock:read"},
    "api:melt_paper": {"POST": "stock:write"},
    "api:certificate_paper": {"GET": "stock:read", "POST": "stock:write"},
    "api:delivery_photos": {"GET": "stock:read", "POST": "stock:write"},
    "api:photo": {"GET": "stock:read"},
    # Holds, orders, shipments
    "api:holds": {"GET": "orders:read", "POST": "orders:write"},
    "api:hold": {"GET": "orders:read", "DELETE": "orders:write"},
    "api:hold_reserve": {"POST": "orders:write"},
    "api:orders": {"GET": "orders:read", "POST": "orders:write"},
    "api:order": {"GET": "orders:read", "PATCH": "orders:write"},
    "api:order_reserve": {"POST": "orders:write"},
    "api:order_cancel": {"POST": "orders:write"},
    "api:order_send": {"POST": "orders:write"},
    "api:order_lines": {"POST": "orders:write"},
    "api:order_line": {"GET": "orders:read", "PATCH": "orders:write"},
    "api:line_reserve": {"POST": "orders:write"},
    "api:line_release": {"POST": "orders:write"},
    "api:line_cancel": {"POST": "orders:write"},
    "api:ship_day_questions": {"POST": "orders:read"},  # asking books nothing
    "api:ship_day_question": {"GET": "orders:read"},
    "api:ship_day_ideas": {"GET": "orders:read"},
    "api:ship_day_order": {"POST": "orders:write"},
    "api:ship_day_not_taken": {"POST": "orders:write"},
    "api:ship_days_at_risk": {"GET": "orders:read"},
    "api:order_ship_day": {"POST": "orders:write"},
    "api:order_ask": {"POST": "orders:read"},
    "api:order_confirm": {"POST": "orders:write"},
    "api:order_queue": {"GET": "orders:read", "POST": "queue:write"},
    "api:notices": {"GET": "orders:read"},
    "api:order_notices": {"GET": "orders:read", "POST": "orders:write"},
    "api:notice_answer": {"POST": "orders:write"},
    "api:notice_refund": {"POST": "orders:write"},
    "api:record": {"GET": "orders:read"},
    "api:customers": {"GET": "orders:read"},
    "api:customer": {"GET": "orders:read", "PATCH": "orders:write"},
    "api:still_owed": {"GET": "orders:read"},
    "api:releases": {"GET": "orders:read", "POST": "orders:write"},
    "api:release": {"GET": "orders:read"},
    "api:release_orders": {"POST": "orders:write"},
    "api:release_end": {"POST": "orders:write"},
    "api:shipments": {"GET": "orders:read"},
    "api:shipment": {"GET": "orders:read"},
    # The night
    "api:nights": {"GET": "orders:read"},
    "api:night": {"GET": "orders:read"},
}

# What is shown only to some, on pages that others may open as well.
SIGHTS: dict[str, str] = {
    "see_costs": DESK,
    "see_addresses": DESK,
    "see_margins": OWNER,
}


class _Acting(Protocol):
    acting_role: str | None


def reaches(role: str | None, least: str) -> bool:
    """Return whether a role is at least another; nobody's role is `anyone`."""
    return _RANK[role or ANYONE] >= _RANK[least]


def capped(role: str) -> str:
    """Return the role of somebody who only touched a name tile: a hand, whatever they may do with their password."""
    return min(role, HAND, key=_RANK.__getitem__)


def least_role(view_name: str, method: str) -> str | None:
    """Return the least role for a page and method, or nothing where the table has no such line."""
    return _line(PAGES, view_name, method)


def scope_of(view_name: str, method: str) -> str | None:
    """Return the scope (or OPEN) for an API address and method, or nothing where the table has no such line."""
    return _line(API, view_name, method)


def methods_of(view_name: str) -> list[str]:
    """Return the methods the tables know for an address."""
    methods = {**PAGES.get(view_name, {}), **API.get(view_name, {})}
    return sorted([*methods, "HEAD"] if "GET" in methods else methods)


def may(request: _Acting, sight: str) -> bool:
    """Return whether whoever is here may see costs ("see_costs") or customers' addresses ("see_addresses")."""
    return reaches(request.acting_role, SIGHTS[sight])


class May:
    """`request.may.see_costs` in a template."""

    def __init__(self, role: str | None) -> None:
        self._role = role

    def __getattr__(self, sight: str) -> bool:
        if sight not in SIGHTS:
            raise AttributeError(sight)
        return reaches(self._role, SIGHTS[sight])


def _line(table: Lines, view_name: str, method: str) -> str | None:
    line = table.get(view_name, {})
    return line.get("GET" if method == "HEAD" else method)
