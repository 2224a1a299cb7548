"""The plan as one Markdown document."""
