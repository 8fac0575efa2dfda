"""Rejects of the year: a chart for each counting point, the ones with a signal first, and the worst causes."""

from django.http import HttpRequest, HttpResponse

from inventory.calc.reject_charts import worst_first
from inventory.models import Pattern, Route
from inventory.queries import along, learned
from shop.shared import clock
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.floor import ROOM
from shop.staff.views.floor_patterns import YEAR


def rejects(request: HttpRequest) -> HttpResponse:
    """Show the charts of rejects, those with a signal first, and the worst causes of the year."""
    here = posting.here_of(request)
    charts = []
    for one in Pattern.objects.filter(runs__isnull=False).distinct().order_by("code"):
        route = Route.objects.filter(pattern=one).order_by("-version").first()
        for step in along.walk(route).points if route else []:
            chart = learned.chart_of(one, step.name)
            if chart and any(count.rejects for count in chart.counts):
                charts.append(_drawn(one, chart))
    charts.sort(key=lambda each: not each["signals"])
    causes = learned.causes(since=clock.now() - YEAR)
    names = {f"{cause} at {point}": qty for (point, cause), qty in causes.items()}
    columns = [Column("cause"), Column("pieces", figures=True), Column("with those above", figures=True)]
    rows = [
        [name, wording.figures(qty), f"{round(100 * share)} in 100"] for name, qty, share in worst_first(names)[:20]
    ]
    facts = {
        "charts": [one for one in charts if one["signals"]],
        "quiet": [one for one in charts if not one["signals"]],
        "causes": Ruled("Worst causes first, last twelve months", columns, rows),
    }
    return posting.sheet(here, "staff/floor/rejects.html", ROOM, facts)


def _drawn(found: Pattern, chart: learned.Chart) -> dict[str, object]:
    """Place the marks of a chart: one a count, its own limit, the usual rate; heights in pixels of 120."""
    top = max(0.05, *(max(s.share, s.high if s.high < 1 else s.share) for s in chart.chart.samples)) * 1.1
    marks = []
    for at, (code, count, sample) in enumerate(zip(chart.codes, chart.counts, chart.chart.samples, strict=True)):
        marks.append(
            {
                "x": f"{(at + 0.5) * 100 / len(chart.counts):.2f}%",
                "y": round(118 - 110 * sample.share / top, 1),
                "limit": round(118 - 110 * min(sample.high, top) / top, 1),
                "out": sample.out > 0,
                "code": code,
                "said": f"{count.rejects} of {count.of}",
            }
        )
    signals = [mark for mark in marks if mark["out"]]
    last = f", last {signals[-1]['code']}: {signals[-1]['said']}" if signals else ""
    columns = [Column("run"), Column("rejected", figures=True), Column("of", figures=True), Column("more than chance from", figures=True)]  # fmt: skip
    rows = [
        [code, str(count.rejects), str(count.of), f"{sample.high * count.of:.1f}"]
        for code, count, sample in zip(chart.codes, chart.counts, chart.chart.samples, strict=True)
    ]
    return {
        "name": f"{found.name}, {chart.step.name}",
        "usual": round(118 - 110 * chart.chart.mean / top, 1),
        "marks": marks,
        "signals": signals,
        "title": f"Usually {chart.chart.mean * 100:.1f} of 100 are rejected; {len(signals)} of {len(marks)} counts were more than chance{last}.",
        "table": Ruled(f"Rejects of {found.name} at {chart.step.name}", columns, rows[-40:]),
    }
