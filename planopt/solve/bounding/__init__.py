"""Bounding: relaxations and the process that proves the bound."""
