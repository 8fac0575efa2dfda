"""The look: what every sheet keeps to, checked on the files themselves and on a page that shows every part."""

import datetime as dt
import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from django import forms
from django.http import HttpRequest
from django.template import engines
from django.template.loader import render_to_string
from django.test import RequestFactory, override_settings
from django.urls import include, path

from shop.shared import clock
from shop.shared.models import Shop
from shop.staff import rooms
from shop.staff.forms import ShopForm
from shop.staff.ruled import Column, Ruled
from shop.staff.templatetags import shop_tags

pytestmark = pytest.mark.daily("sqlite")

STAFF = Path(shop_tags.__file__).resolve().parents[1]
STYLES = STAFF / "static" / "staff"
FOLDER = STAFF / "templates"
TEMPLATES = sorted(
    name
    for name in (str(file.relative_to(FOLDER)) for file in FOLDER.rglob("*.html"))
    if not name.startswith("staff/mail/")  # an e-mail has no style sheet to lean on
)
SHEETS = {"staff/base.html", "staff/print_base.html"}
PAGES = [name for name in TEMPLATES if name not in SHEETS and not name.startswith("staff/parts/")]
NOON = dt.datetime(2026, 11, 25, 15, 42, tzinfo=dt.UTC)


def _nothing(request: HttpRequest) -> None:
    raise AssertionError("only its address is needed")


staff_patterns = ([path(name, _nothing, name=name) for name in ("day", "rack", "book", "logout")], "staff")
urlpatterns = [path("", include(staff_patterns, namespace="staff"))]


class PartsForm(ShopForm):
    """One field of every kind a page may have."""

    length = forms.CharField(label="length of bar C2B")
    other = forms.CharField(label="length of bar C2A", help_text="By tape, from the paint.")
    grade = forms.ChoiceField(label="grade", choices=[("4140", "4140"), ("S7", "S7")])
    day = forms.DateField(label="day", widget=forms.DateInput(attrs={"type": "date"}))
    sure = forms.BooleanField(label="the tags were read one by one")
    way = forms.ChoiceField(label="sent by", choices=[("van", "van"), ("post", "post")], widget=forms.RadioSelect)
    words = forms.CharField(label="in your own words", widget=forms.Textarea(attrs={"rows": 2}), required=False)

    def clean_other(self) -> str:
        raise forms.ValidationError("Feet or inches? Write 18 ft 10 or 18 in.")


class AskForm(ShopForm):
    """Two fields on a slip."""

    who = forms.CharField(label="Who is asking")
    what = forms.CharField(label="What")


def parts() -> dict[str, object]:
    """Return what the page of every part is printed from."""
    typed = {"length": "20 ft 1 1/2", "other": "18 10", "grade": "S7", "day": "2026-12-15", "sure": "on"}
    columns = [Column("bar"), Column("before", figures=True), Column("thrown", figures=True), Column("note")]
    happened = [Column("happened"), Column("what"), Column("who"), Column("line", figures=True)]
    return {
        "form": PartsForm(typed),
        "slip_form": AskForm(initial={"who": "Tarn & Thrupp", "what": "cross peen 2 lb"}),
        "echo": shop_tags.both(6_134_100_000),
        "nm": 92_075_000,
        "mg": 60_327_785,
        "price": 123_450,
        "stamps": [("taken", dt.date(2026, 3, 3)), ("set aside", dt.date(2026, 3, 3)), ("sent", dt.date(2026, 3, 9))],
        "acts": [("/x", "Forge 4 more now"), ("/y", "Leave it 3 short")],
        "table": Ruled(
            "Steel in cut plan 61",
            columns,
            [
                ["4HX", shop_tags.inches(1_047_750_000), shop_tags.inches(17_462_500), ""],
                ["B7K", shop_tags.inches(5_740_400_000), 0, "over 100 lb"],
            ],
            total=["both", shop_tags.inches(6_788_150_000), shop_tags.inches(17_462_500), None],
        ),
        "lines": Ruled(
            "Lines in the book",
            happened,
            [
                [f"{n} Sep", "Bar B7M sawn: 48 blanks to run A9.", "Marek", shop_tags.figures(9118 + n)]
                for n in range(1, 8)
            ],
            bare=True,
        ),
        "strip": ["0", "1", "2", "3", "4", "5+"],
        "people": [SimpleNamespace(pk=n, name=name) for n, name in enumerate(("Ines", "Marek", "Joss", "Hale"), 1)],
        "room": "rack",
        "book_line": 18204,
    }


@pytest.fixture
def shop(db: None) -> Shop:
    Shop.objects.all().delete()
    return Shop.objects.create(name="Harrow Fen Toolworks", zone="America/New_York", invented=True)


def printed(template: str, context: dict[str, object], **here: object) -> str:
    """Print a template as a page of the shop, with whoever is said to be here."""
    request = RequestFactory().get("/rack")
    for name, value in here.items():
        setattr(request, name, value)
    with clock.frozen(NOON), override_settings(ROOT_URLCONF=__name__):
        return engines["django"].from_string(template).render(context, request)


def parts_page() -> str:
    """Print the page of every part as Hale sees it."""
    source = (Path(__file__).parent / "parts_page.html").read_text()
    return printed(source, parts(), person=SimpleNamespace(name="Hale"))


# ---- colour ----


def _channel(value: int) -> float:
    share = value / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours. Source: WCAG 2.2, definitions "contrast ratio", "relative luminance"."""

    def luminance(colour: str) -> float:
        digits = colour.lstrip("#")
        digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
        red, green, blue = (_channel(int(digits[at : at + 2], 16)) for at in (0, 2, 4))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def palettes() -> dict[str, dict[str, str]]:
    """Return the colours by name in daylight, at night and on paper."""
    text = (STYLES / "tokens.css").read_text()
    starts = {"day": 0, "night": text.index("prefers-color-scheme: dark"), "paper": text.index("@media print")}
    found = {}
    for name, start in starts.items():
        block = text[start : text.index("}", start)]
        found[name] = dict(re.findall(r"--([\w-]+):\s*(#[0-9A-Fa-f]{3,6});", block))
    return found


def test_the_contrast_formula_gives_the_published_ends() -> None:
    assert contrast("#000", "#FFF") == pytest.approx(21.0)  # WCAG 2.2: ratios range from 1 to 21
    assert contrast("#5B2583", "#5B2583") == 1.0


@pytest.mark.parametrize("light", ["day", "night", "paper"])
@pytest.mark.parametrize("ground", ["paper", "slip", "wash"])
@pytest.mark.parametrize("text", ["ink", "soft", "hand"])
def test_every_text_can_be_read_on_every_ground(light: str, ground: str, text: str) -> None:
    colours = palettes()[light]
    assert contrast(colours[text], colours[ground]) >= 7.0  # WCAG 2.2, success criterion 1.4.6


@pytest.mark.parametrize("light", ["day", "night", "paper"])
def test_words_on_a_filled_button_and_heavy_rules_can_be_seen(light: str) -> None:
    colours = palettes()[light]
    assert contrast(colours["paper"], colours["hand"]) >= 7.0  # WCAG 2.2, success criterion 1.4.6
    assert contrast(colours["rule"], colours["paper"]) >= 3.0  # WCAG 2.2, success criterion 1.4.11


COLOUR = re.compile(
    r"#[0-9a-fA-F]{3,8}\b|\b(?:rgba?|hsla?|hwb|lab|lch|oklab|oklch|color)\(|"
    r":[^;{}]*\b(?:black|white|red|green|blue|yellow|orange|purple|violet|gr[ae]y|silver|navy|maroon|transparent)\b"
)


@pytest.mark.parametrize("name", ["elements.css", "parts.css", "print.css"])
def test_no_colour_is_named_outside_the_tokens(name: str) -> None:
    text = re.sub(r"/\*.*?\*/", "", (STYLES / name).read_text(), flags=re.DOTALL)
    assert COLOUR.findall(text) == []


def test_every_colour_word_of_the_styles_is_a_token() -> None:
    known = set(re.findall(r"--([\w-]+):", (STYLES / "tokens.css").read_text()))
    used = {name for sheet in STYLES.glob("*.css") for name in re.findall(r"var\(--([\w-]+)\)", sheet.read_text())}
    assert used - known == set()
    assert len(known) > 20


# ---- templates ----


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_template_brings_no_style_script_or_colour_of_its_own(name: str) -> None:
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", (FOLDER / name).read_text(), flags=re.DOTALL)
    assert re.search(r"<style|\sstyle\s*=", text) is None
    assert re.search(r"<script(?![^>]*\bsrc=)|\son[a-z]+\s*=\s*[\"']|javascript:", text) is None
    assert re.search(r"(?:fill|stroke|color)=\"(?!none|url)", text) is None


@pytest.mark.parametrize("name", PAGES)
def test_every_page_hangs_on_the_one_sheet(name: str) -> None:
    hangs_on = name
    while hangs_on not in SHEETS:
        above = re.match(r"{% extends \"([\w/]+\.html)\" %}", (FOLDER / hangs_on).read_text())
        assert above is not None, f"{hangs_on} hangs on nothing"
        hangs_on = above[1]


@pytest.mark.parametrize("name", ["400.html", "500.html"])
def test_a_page_without_request_or_database_still_says_what_to_do(name: str) -> None:
    page = render_to_string(name)
    sentences = re.findall(r"<p[^>]*>([^<]+)</p>", page)
    assert len(sentences) >= 2
    assert all(re.fullmatch(r"[A-Z].*\.", sentence.strip()) for sentence in sentences)
    assert "<nav" not in page


@pytest.mark.parametrize("name", ["400", "403", "404", "500", "403_csrf"])
def test_no_page_of_refusal_begs_cheers_or_says_error(name: str) -> None:
    page = render_to_string(f"{name}.html").lower()
    assert re.findall(r"please|success|error|oops|sorry|!(?!doctype)", page) == []


# ---- the page of every part ----


@pytest.mark.usefixtures("shop")
def test_the_wall_shows_the_rooms_that_exist_and_where_one_stands() -> None:
    page = parts_page()
    wall = page[page.index('<nav class="wall') : page.index("</nav>")]
    assert re.findall(r">(\w+)</a>", wall) == ["Day", "Rack", "Book"]
    assert re.findall(r'href="([^"]+)" aria-current="page"', wall) == ["/rack"]
    assert "Back to the Day sheet" in page
    assert "On to the Book" in page
    assert 'class="shop ' in page


@pytest.mark.usefixtures("shop")
def test_a_stranger_sees_no_wall() -> None:
    page = printed('{% extends "staff/base.html" %}', {"room": "rack"})
    assert "<nav" not in page
    assert "Back to" not in page
    assert "Harrow Fen Toolworks" in page


@pytest.mark.usefixtures("shop")
def test_the_head_and_foot_say_which_shop_and_when_on_its_own_wall() -> None:
    page = parts_page()
    assert "<span>Wednesday 25 November, 10:42</span>" in page  # 15:42 in UTC, five hours ahead of the shop
    assert '<span class="invented">invented shop</span>' in page
    assert "As the book stood at 10:42, line 18\u202f204." in page
    assert "Hale is here. <button>Log out</button>" in page


@pytest.mark.usefixtures("shop")
def test_a_sheet_costs_one_query(django_assert_num_queries: object) -> None:
    with django_assert_num_queries(1):  # type: ignore[operator]
        parts_page()


def test_a_shop_without_its_row_still_has_a_sheet(db: None) -> None:
    Shop.objects.all().delete()
    assert "As the book stood at 15:42." in printed('{% extends "staff/base.html" %}', {})


@pytest.mark.usefixtures("shop")
def test_every_id_is_there_once_and_every_reference_leads_to_one() -> None:
    page = parts_page()
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    named = " ".join(re.findall(r'(?:aria-describedby|\sfor|href="#[^"]*)="([^"]*)"', page)).split()
    named += re.findall(r'href="#([^"]+)"', page)
    assert named
    assert set(named) - set(ids) == set()


@pytest.mark.usefixtures("shop")
def test_a_refused_field_keeps_what_was_typed_and_says_what_would_work() -> None:
    page = parts_page()
    box = re.search(r"<input[^>]*name=\"other\"[^>]*>", page)
    assert box is not None
    assert 'value="18 10"' in box[0]
    assert 'aria-invalid="true"' in box[0]
    assert 'aria-describedby="id_other_say id_other_hint"' in box[0]
    assert '<p class="say" id="id_other_say">Feet or inches? Write 18 ft 10 or 18 in.</p>' in page
    assert '<a href="#id_other">length of bar C2A</a>' in page
    assert "aria-invalid" not in (re.search(r"<input[^>]*name=\"length\"[^>]*>", page) or [""])[0]


@pytest.mark.usefixtures("shop")
def test_an_empty_field_is_told_in_the_shops_words() -> None:
    page = parts_page()
    assert '<p class="say" id="id_way_say">Nothing is written here yet; it is needed.</p>' in page
    assert '<a href="#id_way">sent by</a>: Nothing is written here yet; it is needed.' in page
    assert "required." not in page


@pytest.mark.usefixtures("shop")
def test_a_table_says_its_heads_again_where_it_stacks() -> None:
    page = parts_page()
    table = page[page.index("Steel in cut plan 61") :]
    table = table[: table.index("</table>")]
    assert re.findall(r'data-h="([^"]*)"', table) == ["before", "thrown", "note"] * 3
    assert table.count('role="row"') == 4
    assert '<td role="cell" class="n" data-h="thrown"><span>0</span></td>' in table
    assert '<td role="cell" data-h="note"></td>' in table


def test_what_is_typed_never_becomes_part_of_the_page() -> None:
    assert shop_tags.fractions('<b> 3 5/8 "') == '&lt;b&gt; 3\u00a0<span class="fr">5/8</span> &quot;'


def test_measures_are_printed_as_the_shop_says_them() -> None:
    nb = '<span class="nb">{}</span>'
    # 25.4 mm to the inch: NIST Special Publication 811, appendix B
    assert shop_tags.both(6_134_100_000) == (
        nb.format('20 ft 1\u00a0<span class="fr">1/2</span> in') + " (" + nb.format("6\u202f134.1 mm") + ")"
    )
    assert shop_tags.only_inches(6_134_100_000) == nb.format('241\u00a0<span class="fr">1/2</span> in')
    assert shop_tags.inches(17_462_500) == nb.format("11/16 in")
    # 0.453 592 37 kg to the pound: NIST Special Publication 811, appendix B
    assert shop_tags.mass(45_359_237) == nb.format("100 lb") + " (" + nb.format("45.36 kg") + ")"
    assert shop_tags.money(123_450, "USD") == nb.format("1\u202f234.50 USD")
    assert shop_tags.figures(18204) == "18\u202f204"
    assert [shop_tags.both(None), shop_tags.mass(None), shop_tags.money(None, "USD"), shop_tags.figures(None)] == [
        ""
    ] * 4


def test_days_and_moments_are_the_shops() -> None:
    late = dt.datetime(2026, 12, 18, 3, 5, tzinfo=dt.UTC)  # still the 17th in New York, five hours behind
    assert shop_tags.day(dt.date(2026, 12, 17)) == "Thu\u00a017\u00a0Dec"
    assert shop_tags.day(late, "America/New_York") == "Thu\u00a017\u00a0Dec"
    assert shop_tags.moment(late, "America/New_York") == "Thu\u00a017\u00a0Dec,\u00a022:05"
    assert shop_tags.hour(late, "America/New_York") == "22:05"
    assert shop_tags.stamp_day(dt.date(2026, 3, 3)) == "3\u00a0Mar"
    assert shop_tags.full_day(dt.date(2026, 11, 25)) == "Wednesday 25 November 2026"


def test_a_page_belongs_to_the_room_its_address_starts_with() -> None:
    assert rooms.room_of("rack_plan") == "rack"
    assert rooms.room_of("rack") == "rack"
    assert rooms.room_of("racket") == ""
    assert rooms.room_of("login") == ""
