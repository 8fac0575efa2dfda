"""Addresses of the pages, room by room; each has its line in shop/access/roles.py."""

from django.urls import path

from shop.staff.views import access, owner

app_name = "staff"

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

urlpatterns = [
    *coming_in,
    *owners_desk,
]
