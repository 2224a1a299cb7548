"""Simulated annealing of whole weeks, compiled."""
