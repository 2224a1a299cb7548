"""Limits: which of them clash, by how much they must give, and what they cost."""
