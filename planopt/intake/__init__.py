"""Intake: recipes of others into recipe files, and ours out again, as schema.org Recipe."""
