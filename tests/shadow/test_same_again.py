"""The same again: one shop and one manager have one history, and luck hangs on what it decides, not on when it is asked."""

import os
import subprocess
import sys
from dataclasses import replace

from deploy.environment import ROOT
from tests.shadow.hand_built import live
from tests.shadow.laws import FOLLOWS_THE_LAWS, HIDDEN
from tests.shadow.mornings import simulate
from tests.shadow.plain_manager import by_order_of_promise
from tests.shadow.truths import Line


def test_the_same_shop_and_manager_have_the_same_history_in_any_process() -> None:
    shop, history, _ = live(1, HIDDEN)
    assert simulate(shop, by_order_of_promise(shop.facts)) == history
    script = (
        "from tests.shadow import *; shop = draw_shop(1, HIDDEN, weeks=6); import hashlib;"
        "print(hashlib.sha256(repr(simulate(shop, by_order_of_promise(shop.facts))).encode()).hexdigest())"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", script],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(told) == 1


def test_another_seed_has_another_history() -> None:
    assert live(0, FOLLOWS_THE_LAWS)[1] != live(1, FOLLOWS_THE_LAWS)[1]
    shop = live(0, FOLLOWS_THE_LAWS)[0]
    other = simulate(replace(shop, seed=99), by_order_of_promise(shop.facts))
    assert [run.scrap for run in other.runs] != [run.scrap for run in live(0, FOLLOWS_THE_LAWS)[1].runs]


def test_an_order_more_changes_no_rejects_no_illness_and_no_breakdown_of_what_went_on_without_it() -> None:
    """Runs of the same code and pieces lose the same pieces; the runs opened for the order stand beside them."""
    shop, before, _ = live(4, FOLLOWS_THE_LAWS)
    more = Line(999_999, 0, "dealer", "A", 40, shop.facts.calendar.open_from(15))
    after = simulate(replace(shop, lines=(*shop.lines, more)), by_order_of_promise(shop.facts))
    assert [run.code for run in after.runs] != [run.code for run in before.runs]
    old = {(one.run, one.step, one.entered): one.good for one in before.counts}
    same = [one for one in after.counts if (one.run, one.step, one.entered) in old]
    assert len(same) > 50
    assert all(old[one.run, one.step, one.entered] == one.good for one in same)
    took = {(one.run, one.step, one.pieces): one.minutes for one in before.timings}
    alike = [one for one in after.timings if (one.run, one.step, one.pieces) in took]
    assert all(took[one.run, one.step, one.pieces] == one.minutes for one in alike)
    assert (after.days_out, after.days_down) == (before.days_out, before.days_down)
