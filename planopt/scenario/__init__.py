"""Scenarios: one kitchen, its clients, one planning week."""
