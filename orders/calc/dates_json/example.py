"""A complete small document, printed by the help and run by a test: an invented shop of two people."""

from typing import Final

EXAMPLE: Final = """\
{
  "name": "two people, one hammer",
  "hours": {"first_day": "2026-12-01", "weekdays": ["Mon", "Tue", "Wed", "Thu", "Fri"], "opens": "08:00",
            "closes": "17:00", "production": 0.65, "closed": ["2026-12-25", "2027-01-01"], "carrier_cutoff": "15:00"},
  "people": [{"code": "Ines", "out": ["2026-12-04"], "ill": {"chance": 0.01, "lasts": [1, 1, 2, 4]}}, {"code": "Marek"}],
  "machines": [{"code": "power hammer", "breaks": {"chance": 0.005, "lasts": [1, 2]}}, {"code": "oven"}],
  "products": [
    {"item": "hammer 2 lb", "pattern": "CP2", "made_from": "blank CP2", "most": 24, "bar_gives": 12,
     "steps": [
       {"number": 1, "name": "forge", "minutes": 14, "varies": {"kind": "lognormal", "numbers": [0.2]}, "unsure": 0.05,
        "set_up": 20, "tooling": "T4", "change": 40, "hands": ["Ines"], "machines": ["power hammer"],
        "good": 184, "bad": 16, "fire": {"batch": 4, "minutes": 25}},
       {"number": 2, "name": "grind", "minutes": 9, "good": 95, "bad": 5, "rework": 0.5, "rework_minutes": 6},
       {"number": 3, "name": "harden", "minutes": 1, "machines": ["oven"],
        "oven": {"share": 0.05, "heat_up": 60, "soak": 30, "kind": "845 C"}},
       {"number": 4, "name": "temper", "minutes": 1, "machines": ["oven"], "good": 97, "bad": 3,
        "oven": {"share": 0.04, "heat_up": 45, "soak": 120, "kind": "204 C"}},
       {"number": 5, "name": "haft", "minutes": 8, "cure": 1440, "uses": {"handle 16 in": 1}},
       {"number": 6, "name": "pack", "minutes": 3}]}],
  "stock": {"hammer 2 lb": 3, "blank CP2": 60, "handle 16 in": 14},
  "batches": [{"code": "K7", "item": "hammer 2 lb", "step": 2, "pieces": 11, "ready": "2026-12-01T09:30"}],
  "suppliers": [{"code": "handles", "late_days": [0, 0, 2, 5, -1], "lead_days": 10}],
  "coming": [{"item": "handle 16 in", "pieces": 36, "day": "2026-12-08", "supplier": "handles"}],
  "buys_from": {"handle 16 in": "handles"},
  "lines": [{"order": "81", "item": "hammer 2 lb", "pieces": 12, "day": "2026-12-11", "sure": 0.9}],
  "pins": [{"run": "K7", "step": 3, "day": "2026-12-02"}],
  "tooling_in": {"power hammer": "T4"},
  "seed": 7,
  "futures": 1000,
  "questions": [
    {"ask": "when", "order": "asked", "lines": [{"item": "hammer 2 lb", "pieces": 20}], "sure": 0.9},
    {"ask": "how_sure", "order": "asked", "lines": [{"item": "hammer 2 lb", "pieces": 20}], "by": "2026-12-18"},
    {"ask": "how_many", "order": "asked", "lines": [{"item": "hammer 2 lb", "pieces": 20}], "by": "2026-12-11"},
    {"ask": "promises"},
    {"ask": "week", "days": 7},
    {"ask": "ideas", "order": "asked", "lines": [{"item": "hammer 2 lb", "pieces": 20}]}]
}"""
