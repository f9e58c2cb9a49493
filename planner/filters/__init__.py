"""What the planner's lists can be narrowed by."""
