"""Facts that nobody recorded: which of them can change a verdict, tried at both ends of what they may plausibly be."""

from planner.core.doubting.resolve import resolved

__all__ = ["resolved"]
