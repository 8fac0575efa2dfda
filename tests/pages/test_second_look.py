"""A delivery in two sittings: at the lorry in a few touches, on the rack with tape, micrometer, scale and certificate."""

import io
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from PIL import Image

from inventory.models import Bar, Certificate, Claim, Delivery, DeliveryPhoto, Holding, Melt
from inventory.services import purchasing, steel_items
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from shop.flows import checking, delivering
from tests import makers
from tests.makers import AT, actor
from tests.pages.hands import Hand
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


def came_by(bars: str = "7 @ 20 ft", **facts: str) -> Delivery:
    """Seven bars at the Door, as the driver's paper says, not taped."""
    makers.make_grade("1045")
    line = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "A7731", "bars": bars, "measured": "no"}
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        purchasing.Supplier.objects.filter(pk=firm.pk).update(claim_days=5)
        return delivering.receive(firm, Paper([PaperLine(**{**line, **facts})]), stamp=makers.stamp()).delivery


@pytest.fixture
def hand(db: None) -> Client:
    make_shop()
    return client_of("hand")


@pytest.fixture
def desk(db: None) -> Client:
    make_shop()
    return client_of("desk")


def bars_of(delivery: Delivery) -> list[Bar]:
    return list(Bar.objects.filter(lot__delivery_line__delivery=delivery, parent=None).order_by("pk"))


def test_the_second_look_puts_the_bars_on_the_rack_and_answers_at_once(hand: Client) -> None:
    delivery = came_by()
    said = text(
        follow(
            hand,
            press(
                hand,
                f"/door/{delivery.number}/look",
                l0_lengths="6 @ 20 ft 1/2 in, 1 @ 18 ft 10 in",
                l0_sizes="6 @ 2.004/1.998, 1.752/1.748",
                l0_scale="1480 lb",
                l0_weighed_by="own scale",
            ),
        )
    )
    bars = bars_of(delivery)
    assert all(bar.measured for bar in bars)
    assert "7 bars are on the rack" in said
    assert "good bars weigh" in said
    assert f"Bar {bars[-1].number} (1.752/1.748) is" in said
    assert "under the size" in said
    assert checking.check_book() == []


def test_a_bar_sawn_in_two_at_the_door_is_two_bars_on_the_rack(hand: Client) -> None:
    delivery = came_by("1 @ 20 ft")
    press(hand, f"/door/{delivery.number}/look", l0_lengths="9 ft 11 in + 10 ft 1 in")
    whole = bars_of(delivery)[0]
    halves = list(whole.remnants.order_by("pk"))
    assert [half.typed for half in halves] == ["9 ft 11 in", "10 ft 1 in"]
    assert all(half.lot.melt == whole.lot.melt for half in halves)
    assert not Holding.objects.filter(lot=whole.lot, on_hand__gt=0).exists()
    assert checking.check_book() == []


def test_two_mill_heats_in_a_bundle_become_two_melts(hand: Client) -> None:
    delivery = came_by("3 @ 20 ft")
    third = bars_of(delivery)[2]
    press(hand, f"/door/{delivery.number}/look", l0_other_bars=third.number, l0_other_heat="A7732")
    third.lot.refresh_from_db()
    assert third.lot.melt.heat_number == "A7732"
    assert {bar.lot.melt.heat_number for bar in bars_of(delivery)} == {"A7731", "A7732"}
    assert checking.check_book() == []


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"l0_lengths": "6 @ 20 ft"}, "l0_lengths", "6 bars are written and 7 wait"),
        ({"l0_lengths": "7 @ twenty"}, "l0_lengths", "twenty"),
        ({"l0_sizes": "2.00/2.01"}, "l0_sizes", "1 bars are written and 7 came"),
        ({"l0_sizes": "7 @ 50/50 in"}, "l0_sizes", "far from 2 in"),
        ({"l0_sizes": "7 @ 2/2/2"}, "l0_sizes", "are not two sizes"),
        ({"l0_scale": "1480 lb"}, "l0_weighed_by", "Weighed by"),
        ({"l0_scale": "heavy", "l0_weighed_by": "own scale"}, "l0_scale", "heavy"),
        ({"l0_other_bars": "ZZZ", "l0_other_heat": "7"}, "l0_other_bars", "is none of"),
        ({"l0_other_heat": "7"}, "l0_other_bars", "numbers of its bars"),
        ({"place": "NOWHERE", "l0_lengths": "7 @ 20 ft"}, "place", "There is no place"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_kept(hand: Client, typed, field, words) -> None:
    delivery = came_by()
    answer = press(hand, f"/door/{delivery.number}/look", **{"l0_sizes": "7 @ 2.0/2.0", **typed})
    assert answer.status_code in {404, 422}
    assert words in text(answer)
    assert not Bar.objects.filter(measured=True).exists()
    assert not Bar.objects.exclude(sizes_typed="").exists()


def test_refused_steel_goes_back_and_steel_not_to_be_used_stays_apart(hand: Client) -> None:
    delivery = came_by("2 @ 20 ft")
    assert press(hand, f"/door/{delivery.number}/line/1", answer="refused").status_code == 422  # why is missing
    press(hand, f"/door/{delivery.number}/line/1", answer="refused", note="bent like a bow")
    assert not Holding.objects.filter(on_hand__gt=0, place__inside=True).exists()
    assert delivery.lines.get().answer == "refused"
    other = came_by("2 @ 20 ft", heat_number="A7740")
    press(hand, f"/door/{other.number}/line/1", answer="not to be used", note="spark test does not match")
    assert set(Holding.objects.filter(on_hand__gt=0).values_list("place__code", flat=True)) == {"NOT-USED"}
    assert checking.check_book() == []


def test_a_claim_begins_with_what_was_found_and_knows_its_last_day(desk: Client) -> None:
    delivery = came_by("2 @ 20 ft")
    press(desk, f"/door/{delivery.number}/look", l0_sizes="2.0/2.0, 1.75/1.75")
    page = text(desk.get(f"/door/{delivery.number}/claim"))
    assert "1 of 2 bars" in page
    press(desk, f"/door/{delivery.number}/claim")
    claim = Claim.objects.get()
    assert "out of size" in claim.words
    assert claim.until is not None
    assert (claim.until - AT.date()).days == 7  # five working days after a Monday
    press(desk, f"/door/claim/{claim.pk}", sent_on="2026-03-03", settled="credit note 12")
    claim.refresh_from_db()
    assert (str(claim.sent_on), claim.settled) == ("2026-03-03", "credit note 12")


def test_damage_seen_at_the_lorry_is_a_claim_already(hand: Client) -> None:
    delivery = came_by(damage="one bent")
    assert Claim.objects.get(delivery=delivery).about == "damage"
    assert "Damage seen: one bent" in text(hand.get(f"/door/{delivery.number}"))


def photo() -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (8, 6), (90, 30, 20)).save(out, "PNG")
    return SimpleUploadedFile("tag.png", out.getvalue(), "image/png")


def test_a_photo_is_kept_with_the_delivery_and_handed_out_safely(hand: Client, settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path
    delivery = came_by()
    press(hand, f"/door/{delivery.number}/photo", file=photo(), words="the tag")  # type: ignore[arg-type]
    kept = DeliveryPhoto.objects.get()
    answer = hand.get(f"/door/photo/{kept.pk}")
    assert answer["Content-Type"] == "image/png"
    assert "attachment" in answer["Content-Disposition"]
    assert hand.get("/door/photo/999").status_code == 404


def test_a_file_that_is_no_photo_is_refused_and_not_kept(hand: Client, settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path
    delivery = came_by()
    bad = SimpleUploadedFile("tag.png", b"<html>", "image/png")
    assert press(hand, f"/door/{delivery.number}/photo", file=bad).status_code == 422  # type: ignore[arg-type]
    assert press(hand, f"/door/{delivery.number}/photo").status_code == 422
    assert not DeliveryPhoto.objects.exists()
    assert list(tmp_path.iterdir()) == []


def test_a_certificate_outside_the_limits_keeps_the_saw_off_until_somebody_answers(hand: Client) -> None:
    delivery = came_by("1 @ 20 ft")
    press(hand, f"/door/{delivery.number}/look", l0_lengths="20 ft", l0_sizes="2/2")
    melt, bar = Melt.objects.get(heat_number="A7731"), bars_of(delivery)[0]
    makers.file_certificate(melt, C="0.60", Mn="0.75", P="0.01", S="0.01")
    assert "outside the limits" in text(hand.get(f"/door/{delivery.number}"))
    assert "do not cut" in text(hand.get("/rack"))
    assert "certificate is outside the limits" in text(hand.get(f"/rack/bar/{bar.number}"))
    saw = {"blank": "other", "length": "4 in", "pieces": "3", "scrap": "on"}
    assert press(hand, f"/rack/bar/{bar.number}/saw", **saw).status_code == 409
    press(hand, f"/door/{delivery.number}/line/1", answer="accepted with a note", note="for drifts")
    assert press(hand, f"/rack/bar/{bar.number}/saw", **saw).status_code == 302


def test_the_desk_at_the_door_in_two_sittings(
    live_server, at_a_tablet: Callable[..., Hand], record_property, tmp_path, settings
) -> None:
    """Seven bars, two mill heats, one bar of a wrong size, the certificate uploaded later: counted touch by touch."""
    settings.MEDIA_ROOT = tmp_path
    make_shop()
    with transaction.atomic():
        steel = steel_items.bar_item(makers.make_grade("1045"), makers.make_section(), at=AT, by=actor())
        firm = purchasing.add_supplier("Invented Steel", at=AT, by=actor())
        purchasing.open_order(firm, [ToBuy(steel, "7 @ 20 ft")], ordered_on=AT.date(), at=AT, by=actor())
    hand = at_a_tablet(client_of("hand"), "door")
    hand.touch(hand.on("Meet the lorry"))
    hand.write("l0_bars", "7")
    hand.write("l0_heat_number", "A7731")
    hand.choose("l0_certificate", "to come")
    hand.touch(hand.on("Book the delivery"))
    hand.page.wait_for_url(re.compile(r"/door/[0-9]+$"), timeout=10_000)
    at_the_lorry = hand.touches
    print(hand.told())
    assert at_the_lorry <= 8, hand.told()
    third = Bar.objects.order_by("pk")[2]
    hand.touch(hand.on("On the rack"))
    hand.write("l0_lengths", "6 @ 20 ft 1/2 in, 1 @ 18 ft 10 in")
    hand.write("l0_sizes", "6 @ 2.004/1.998, 1.752/1.748")
    hand.write("l0_scale", "1480 lb")
    hand.choose("l0_weighed_by", "own scale")
    hand.touch(hand.page.locator("summary:has-text('another mill heat')"))
    hand.write("l0_other_bars", third.number)
    hand.write("l0_other_heat", "A7732")
    hand.touch(hand.on("Write it down"))
    hand.page.wait_for_url(re.compile(r"/door/[0-9]+$"), timeout=10_000)
    said = hand.page.inner_text("main")
    assert "under the size" in said
    assert "As ordered" in said
    assert "Certificate awaited" in said
    assert Holding.objects.filter(place__code="RACK", on_hand__gt=0).count() == 7
    record_property("second sitting", hand.told())
    print(hand.told())
    upload(hand.page, live_server.url)
    assert Certificate.objects.get().file_name == "certificate.pdf"
    assert not Melt.objects.get(heat_number="A7731").certificate_awaited


def upload(page: Any, url: str) -> None:
    """File the certificate that came by mail a day later."""
    melt = Melt.objects.get(heat_number="A7731")
    page.goto(f"{url}/rack/melt/{melt.pk}/certificate")
    pdf = b"%PDF-1.4\n1 0 obj<</Type /Page>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"
    page.set_input_files("[name=file]", {"name": "certificate.pdf", "mimeType": "application/pdf", "buffer": pdf})
    page.fill("[name=read_by]", "HE")
    page.click("main button.do.now")
    page.wait_for_load_state()
