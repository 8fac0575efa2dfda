"""Addresses of the API, version 1. Each name has a line in the table of scopes, or it is refused to everybody."""

import datetime as dt

from django.urls import path, re_path, register_converter
from django.urls.resolvers import URLPattern

from shop.api import (
    availability,
    bottles,
    customers,
    cut_plans,
    cut_plans_at_saw,
    decisions,
    deliveries,
    docs,
    doubt,
    floor,
    grade_writing,
    grades,
    handlers,
    holds,
    items,
    melts,
    mending,
    meta,
    nights,
    notices,
    order_lines,
    order_ship_days,
    orders,
    oven_loads,
    owed,
    paper_files,
    papers,
    pattern_routes,
    patterns,
    photos,
    presence,
    queue,
    reading,
    record,
    releases,
    reorder,
    run_counts,
    runs,
    sawing,
    saws,
    second_look,
    ship_days,
    shipments,
    shop_days,
    steel,
    tooling,
    week,
)


class Code:
    """The code of an item, a lot or a bar: what a wrong one looks like never reaches the database."""

    regex = r"[A-Z][A-Z0-9.\-]{0,29}"

    def to_python(self, value: str) -> str:
        """Return the code."""
        return value

    def to_url(self, value: str) -> str:
        """Return the code."""
        return value


class BarNumber(Code):
    """The number of a bar."""

    regex = r"[2-9A-HJ-NP-Z]{1,4}"


class Number:
    """A number that every database can look up."""

    regex = r"[1-9][0-9]{0,8}"

    def to_python(self, value: str) -> int:
        """Return the number."""
        return int(value)

    def to_url(self, value: int) -> str:
        """Return the number's digits."""
        return str(value)


register_converter(Code, "api_code")
register_converter(BarNumber, "api_bar")


class GradeCode(Code):
    """The code of a grade, as the book allows it."""

    regex = r"[A-Za-z0-9][A-Za-z0-9 ./+\-]{0,19}"


class GradeAlone(GradeCode):
    """The code of a grade at the end of an address; since it may have strokes in it, parts of a grade are told apart."""

    regex = r"(?!.*/(?:limits|density)(?:/|$))" + GradeCode.regex


register_converter(GradeCode, "api_grade")
register_converter(GradeAlone, "api_grade_alone")


class Day:
    """A calendar day."""

    regex = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> dt.date:
        """Return the day; what is none leads nowhere."""
        return reading.day(value, "day")

    def to_url(self, value: dt.date | str) -> str:
        """Return the day as it is written; what is no day has no address."""
        return str(dt.date.fromisoformat(value) if isinstance(value, str) else value)


class PlannedRun(Code):
    """The code of a run, or of one that is still to be started: its item, or an order's line in words, and a number."""

    regex = r"[A-Z0-9][A-Z0-9.\-]{0,33}(?:\+[0-9]{1,4})?"


register_converter(PlannedRun, "api_planned")
register_converter(Number, "api_number")
register_converter(Day, "api_day")

app_name = "api"
described: list[URLPattern] = [
    path("me", meta.Me.as_view(), name="me"),
    path("settings", shop_days.ReadSettings.as_view(), name="settings"),
    path("shut-days", shop_days.Shut.as_view(), name="shut_days"),
    path("shut-days/<api_number:id>", shop_days.OneShut.as_view(), name="shut_days_one"),
    path("reorder", reorder.Needs.as_view(), name="reorder"),
    path("reorder/<api_code:code>", reorder.OneNeed.as_view(), name="reorder_one"),
    path("purchase-proposals", reorder.Proposals.as_view(), name="purchase_proposals"),
    path("bottles", bottles.Bottles.as_view(), name="bottles"),
    path("bottles/<api_number:id>/read", bottles.ReadBottle.as_view(), name="bottle_read"),
    path("bottles/<api_number:id>/put-in", bottles.PutInBottle.as_view(), name="bottle_put_in"),
    path("bottles/<api_number:id>/back", bottles.BottleBack.as_view(), name="bottle_back"),
    path("absences", presence.Absences.as_view(), name="absences"),
    path("absences/<api_number:id>/back", presence.Back.as_view(), name="absence_back"),
    path("machines-down", presence.MachinesDown.as_view(), name="machines_down"),
    path("machines-down/<api_number:id>/runs-again", presence.RunsAgain.as_view(), name="machine_runs_again"),
    path("week", week.Week.as_view(), name="week"),
    path("week/pins", week.Pins.as_view(), name="week_pins"),
    path("week/pins/<api_planned:run>/<api_number:step>", week.OnePin.as_view(), name="week_pin"),
    path("availability", availability.All.as_view(), name="availabilities"),
    path("availability/<api_code:code>", availability.One.as_view(), name="availability"),
    path("items", items.Items.as_view(), name="items"),
    path("items/<api_code:code>", items.OneItem.as_view(), name="item"),
    path("bars", steel.Bars.as_view(), name="bars"),
    path("bars/<api_bar:bar>", steel.OneBar.as_view(), name="bar"),
    path("lots", steel.Lots.as_view(), name="lots"),
    path("lots/<api_code:code>", steel.OneLot.as_view(), name="lot"),
    path("deliveries", deliveries.Deliveries.as_view(), name="deliveries"),
    path("deliveries/<api_number:number>", deliveries.OneDelivery.as_view(), name="delivery"),
    path("deliveries/<api_number:number>/checks", second_look.Checked.as_view(), name="delivery_checks"),
    path("deliveries/<api_number:number>/answers", second_look.AnswerLine.as_view(), name="delivery_answers"),
    path("melts", melts.Melts.as_view(), name="melts"),
    path("melts/<api_number:id>", melts.OneMelt.as_view(), name="melt"),
    path("melts/<api_number:id>/went-into", melts.WentInto.as_view(), name="melt_went_into"),
    path("deliveries/<api_number:number>/claims", doubt.Claims.as_view(), name="delivery_claims"),
    path("lots/<api_code:code>/not-to-be-used", doubt.ShutLot.as_view(), name="lot_shut"),
    path("lots/<api_code:code>/use-again", decisions.UseLotAgain.as_view(), name="lot_use_again"),
    path("lots/<api_code:code>/scrap", decisions.ScrapLot.as_view(), name="lot_scrap"),
    path("melts/<api_number:id>/not-to-be-used", doubt.ShutMelt.as_view(), name="melt_shut"),
    path("bars/<api_bar:bar>/paint-lost", doubt.PaintLost.as_view(), name="bar_paint_lost"),
    path("cuts", sawing.Cuts.as_view(), name="cuts"),
    path("bars/<api_bar:bar>/cuts", sawing.CutBar.as_view(), name="bar_cut"),
    path("cut-plans", cut_plans.CutPlans.as_view(), name="cut_plans"),
    path("cut-plans/<api_number:number>", cut_plans.OneCutPlan.as_view(), name="cut_plan"),
    path("cut-plans/<api_number:number>/take", cut_plans_at_saw.TakeCutPlan.as_view(), name="cut_plan_take"),
    path("cut-plans/<api_number:number>/sawn", cut_plans_at_saw.SawCutPlan.as_view(), name="cut_plan_sawn"),
    path(
        "cut-plans/<api_number:number>/bars/<api_bar:bar>/leave-alone",
        cut_plans_at_saw.LeaveBar.as_view(),
        name="cut_plan_leave",
    ),
    path("cut-plans/<api_number:number>/drop", cut_plans_at_saw.DropCutPlan.as_view(), name="cut_plan_drop"),
    path("saws", saws.Saws.as_view(), name="saws"),
    path("saws/<api_number:id>", saws.OneSaw.as_view(), name="saw"),
    path("floor", floor.Floor.as_view(), name="floor"),
    path("floor/counts", floor.Tallies.as_view(), name="floor_counts"),
    path("floor/notes", floor.Notes.as_view(), name="floor_notes"),
    path("machines", tooling.Machines.as_view(), name="machines"),
    path("tooling", tooling.Tooling.as_view(), name="tooling"),
    path("tooling/<api_code:code>/changes", tooling.ToolingChanges.as_view(), name="tooling_changes"),
    path("lots/<api_code:code>/run", floor.OpenRun.as_view(), name="lot_run"),
    path("lots/<api_code:code>/sorted", floor.SortHandles.as_view(), name="lot_sorted"),
    path("patterns", patterns.Patterns.as_view(), name="patterns"),
    path("patterns/<api_code:code>", patterns.OnePattern.as_view(), name="pattern"),
    path("patterns/<api_code:code>/route", pattern_routes.PatternRoute.as_view(), name="pattern_route"),
    path("patterns/<api_code:code>/starts", patterns.Starts.as_view(), name="pattern_starts"),
    path("patterns/<api_code:code>/count-afresh", patterns.CountAfresh.as_view(), name="pattern_afresh"),
    path("runs", runs.Runs.as_view(), name="runs"),
    path("runs/<api_code:code>", runs.OneRun.as_view(), name="run"),
    path("runs/<api_code:code>/counts", run_counts.Counts.as_view(), name="run_counts"),
    path("runs/<api_code:code>/top-up", runs.TopUp.as_view(), name="run_top_up"),
    path("runs/<api_code:code>/part", runs.PartRun.as_view(), name="run_part"),
    path("runs/<api_code:code>/join", runs.JoinRun.as_view(), name="run_join"),
    path("runs/<api_code:code>/hafted", run_counts.HaftRun.as_view(), name="run_hafted"),
    path("rejects/<api_number:id>/cause", run_counts.RejectCause.as_view(), name="reject_cause"),
    path("runs/<api_code:code>/packed", run_counts.PackRun.as_view(), name="run_packed"),
    path("oven-loads", oven_loads.OvenLoads.as_view(), name="oven_loads"),
    path("oven-loads/<api_number:number>", oven_loads.OneLoad.as_view(), name="oven_load"),
    path("oven-loads/<api_number:number>/out", oven_loads.LoadOut.as_view(), name="oven_load_out"),
    path("oven-loads/<api_number:number>/readings", oven_loads.LoadReadings.as_view(), name="oven_load_readings"),
    path(
        "oven-loads/<api_number:number>/readings/<api_number:id>/take-back",
        oven_loads.TakeReadingBack.as_view(),
        name="oven_reading_back",
    ),
    path("pieces-brought-in", mending.Pieces.as_view(), name="pieces"),
    path("pieces-brought-in/<api_number:number>", mending.OnePiece.as_view(), name="piece"),
    path("pieces-brought-in/<api_number:number>/done", mending.PieceDone.as_view(), name="piece_done"),
    path("pieces-brought-in/<api_number:number>/given-back", mending.PieceGivenBack.as_view(), name="piece_back"),
    path("cut-rules", saws.Rules.as_view(), name="cut_rules"),
    path("grades", grades.Grades.as_view(), name="grades"),
    path("grades/<api_grade:grade>/limits", grade_writing.GradeLimits.as_view(), name="grade_limits"),
    path("grades/<api_grade:grade>/limits/<api_number:id>", grade_writing.OneRow.as_view(), name="grade_limits_row"),
    path("grades/<api_grade:grade>/density", grade_writing.Density.as_view(), name="grade_density"),
    path("grades/<api_grade_alone:grade>", grades.OneGrade.as_view(), name="grade"),
    path("melts/<api_number:id>/certificates", papers.MeltCertificates.as_view(), name="melt_certificates"),
    path("certificates/<api_number:id>", papers.OneCertificate.as_view(), name="certificate"),
    path("melts/<api_number:id>/certificates/paper", paper_files.PaperAlone.as_view(), name="melt_paper"),
    path("certificates/<api_number:id>/paper", paper_files.Paper.as_view(), name="certificate_paper"),
    path("deliveries/<api_number:number>/photos", photos.DeliveryPhotos.as_view(), name="delivery_photos"),
    path("photos/<api_number:id>", photos.OnePhoto.as_view(), name="photo"),
    path("holds", holds.Holds.as_view(), name="holds"),
    path("holds/<api_number:id>", holds.OneHold.as_view(), name="hold"),
    path("holds/<api_number:id>/reserve", holds.ReserveHold.as_view(), name="hold_reserve"),
    path("orders", orders.Orders.as_view(), name="orders"),
    path("orders/<api_number:number>", orders.OneOrder.as_view(), name="order"),
    path("orders/<api_number:number>/reserve", orders.ReserveOrder.as_view(), name="order_reserve"),
    path("orders/<api_number:number>/cancel", orders.CancelOrder.as_view(), name="order_cancel"),
    path("ship-days/questions", ship_days.Questions.as_view(), name="ship_day_questions"),
    path("ship-days/questions/<api_number:id>", ship_days.OneQuestion.as_view(), name="ship_day_question"),
    path("ship-days/questions/<api_number:id>/ideas", ship_days.Ideas.as_view(), name="ship_day_ideas"),
    path("ship-days/questions/<api_number:id>/order", ship_days.TakeWithDay.as_view(), name="ship_day_order"),
    path("ship-days/at-risk", order_ship_days.AtRisk.as_view(), name="ship_days_at_risk"),
    path("orders/<api_number:number>/ship-day", order_ship_days.GiveDay.as_view(), name="order_ship_day"),
    path("orders/<api_number:number>/ship-day/question", order_ship_days.AskForOrder.as_view(), name="order_ask"),
    path("orders/<api_number:number>/confirm", order_ship_days.Confirm.as_view(), name="order_confirm"),
    path("orders/<api_number:number>/queue", queue.Place.as_view(), name="order_queue"),
    path("notices", notices.Notices.as_view(), name="notices"),
    path("orders/<api_number:number>/notices", notices.OrderNotices.as_view(), name="order_notices"),
    path(
        "orders/<api_number:number>/notices/<api_number:id>/answer",
        notices.NoticeAnswer.as_view(),
        name="notice_answer",
    ),
    path(
        "orders/<api_number:number>/notices/<api_number:id>/refund",
        notices.NoticeRefund.as_view(),
        name="notice_refund",
    ),
    path("orders/<api_number:number>/shipments", shipments.Send.as_view(), name="order_send"),
    path("orders/<api_number:number>/lines", order_lines.Lines.as_view(), name="order_lines"),
    path("orders/<api_number:number>/lines/<api_number:line>", order_lines.OneLine.as_view(), name="order_line"),
    path(
        "orders/<api_number:number>/lines/<api_number:line>/reserve",
        order_lines.ReserveLine.as_view(),
        name="line_reserve",
    ),
    path(
        "orders/<api_number:number>/lines/<api_number:line>/release",
        order_lines.ReleaseLine.as_view(),
        name="line_release",
    ),
    path(
        "orders/<api_number:number>/lines/<api_number:line>/cancel",
        order_lines.CancelLine.as_view(),
        name="line_cancel",
    ),
    path("record", record.Record.as_view(), name="record"),
    path("customers", customers.Customers.as_view(), name="customers"),
    path("customers/<api_number:id>", customers.OneCustomer.as_view(), name="customer"),
    path("still-owed", owed.StillOwed.as_view(), name="still_owed"),
    path("releases", releases.Releases.as_view(), name="releases"),
    path("releases/<api_number:id>", releases.OneRelease.as_view(), name="release"),
    path("releases/<api_number:id>/orders", releases.ReleaseOrders.as_view(), name="release_orders"),
    path("releases/<api_number:id>/end", releases.EndRelease.as_view(), name="release_end"),
    path("shipments", shipments.Shipments.as_view(), name="shipments"),
    path("shipments/<api_number:number>", shipments.OneShipment.as_view(), name="shipment"),
    path("nights", nights.Nights.as_view(), name="nights"),
    path("nights/<api_day:day>", nights.OneNight.as_view(), name="night"),
]
urlpatterns = [
    *described,
    path("openapi.json", docs.description, name="openapi"),
    path("docs", docs.page, name="docs"),
    path("docs.js", docs.script, name="docs_script"),
    re_path(r"^problems/(?P<code>[a-z0-9_]{1,60})$", handlers.explain, name="problem"),
]
