"""Who signs a form on the shared tablet."""

from django import forms

from shop.access.middleware import Here
from shop.access.services import tablets
from shop.access.services.tablets import NoSuchTile
from shop.shared import units


def sign(here: Here, form: forms.Form) -> bool:
    """Let the person of the touched name tile sign; without one it is whoever is here."""
    touched = here.POST.get("who", "")
    if not touched or here.tablet is None:
        return True
    try:
        here.person = tablets.tile(units.plain_number(touched) or 0)
    except NoSuchTile as gone:
        form.add_error(None, gone.sentence)
        return False
    return True
