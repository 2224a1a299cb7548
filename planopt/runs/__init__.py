"""Runs: the weeks of many kitchens, side by side, resumable."""
