"""The cheapest way out of every segment that is not convertible, and those that a planner has taken."""

from planner.core.reliefs.taking import TakenUp, take_up
from planner.core.reliefs.ways import ways_out, with_ways_out

__all__ = ["TakenUp", "take_up", "ways_out", "with_ways_out"]
