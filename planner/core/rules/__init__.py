"""The rules: one table, one module for each family of rules, and the arrays that measure what they judge."""

from planner.core.rules.table import BY_CODE, RULES, Rule

__all__ = ["BY_CODE", "RULES", "Rule"]
