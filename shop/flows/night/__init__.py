"""The night: once a local day the reorder check is worked out, kept, and put into the post."""

from shop.flows.night.letter import Letter, render
from shop.flows.night.running import compute, due, latest, run_if_due

__all__ = ["Letter", "compute", "due", "latest", "render", "run_if_due"]
