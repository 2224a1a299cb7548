"""Overview: all clients of a run as tables, CSV, JSON and one page."""
