"""Lists of the planner."""
