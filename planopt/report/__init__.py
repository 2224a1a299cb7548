"""Report: a plan as tables, text and files."""
