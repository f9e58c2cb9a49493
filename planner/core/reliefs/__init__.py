"""The cheapest way out of every segment that is not convertible."""

from planner.core.reliefs.ways import ways_out, with_ways_out

__all__ = ["ways_out", "with_ways_out"]
