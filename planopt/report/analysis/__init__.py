"""Analysis: what a report computes from a plan, as neutral tables."""
