"""When an order can be sent, and how sure that is: a planner at mean times and a simulation of many possible futures.

`state` and `route` say what is known of the shop, `plan` proposes who does what in which order, `scenarios` plays that order through
many futures drawn from what the shop has counted, `asking` answers the three questions. Pure: no clock, no database.

The model in one paragraph. Lines are served in the order they were promised. What is short is made in runs whose size
leaves room for rejects. Each run goes whole from step to step; people, machines, the oven are held as the plan says, in
its sequence, in every future; somebody else does the work of one who is ill, if he can. Work takes its minutes inside
opening hours, times one over the share of the day that is production; cures and soaks run through nights. In each future
good rates are drawn from what was counted, shared by all runs of a pattern; minutes from the learned spread; people are
ill and machines down at their rates; deliveries come as late as the supplier's record says, given that they have not come
yet. A run whose material comes late is followed apart and holds up nobody else. What a run has left is stretched or
shortened by the unrest of a shop that plans anew each morning. Lines draw on what is finished in the order of the queue;
what is short in the end is made up by up to three further runs, of material that nobody else takes, begun when a count
shows it; otherwise the answer is "never". Left out: overtime, priorities inside a day, tooling that breaks, pieces that
overtake each other inside a run, orders that are still to come.
"""

from typing import Final

MODEL: Final = "2"  # goes up with every change that may give the same shop another answer; design of the calculator
