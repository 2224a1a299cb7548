"""Solve: run HiGHS and tell honestly how it ended."""
