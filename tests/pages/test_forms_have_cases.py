"""A form that nobody tries with odd values is found here: every page that takes a form has cases, or says where they are."""

import re

from django.urls import resolve

from shop.access import roles
from tests.pages import test_odd_values, test_odd_values_at_the_door, test_odd_values_on_the_floor

ELSEWHERE = {
    **dict.fromkeys(
        (
            "staff:login", "staff:logout", "staff:here", "staff:start", "staff:own_password", "staff:people",
            "staff:person", "staff:person_password", "staff:tablets", "staff:tablet_revoke", "staff:keys",
            "staff:key_revoke", "staff:links", "staff:link_revoke", "staff:settings",
        ),
        "test_access.py",
    ),
    "staff:door_photo": "test_second_look.py",
    "staff:week": "test_week.py",
    "staff:item_use_rate": "test_use_rates.py",
    "staff:order_day_asked": "test_asked.py",  # a button without a field
    "staff:counter_asked_not_taken": "test_asked.py",  # a button without a field
}  # fmt: skip
PLAIN = {
    "bar": "2",
    "head": "HD-1",
    "steel": "B-1",
    "planned": "2",
    "pattern": "CP2",
    **dict.fromkeys(("sawn", "spoilt", "tempered", "checked", "curing"), "K7"),
}


def named(address: str) -> str:
    """Return the name of the page that an address of the lists leads to."""
    bare = address.partition("?")[0]
    return resolve(re.sub(r"\{(\w+)\}", lambda found: PLAIN.get(found[1], "1"), bare)).view_name


def test_every_form_is_tried_with_odd_values() -> None:
    tried = {
        named(page)
        for page in (*test_odd_values.PAGES, *test_odd_values_at_the_door.PAGES, *test_odd_values_on_the_floor.PAGES)
    }
    forms = {name for name, line in roles.PAGES.items() if "POST" in line}
    assert forms - tried - set(ELSEWHERE) == set()
    assert not set(ELSEWHERE) & tried, "no excuse is needed any more"
