"""Households: many clients and kitchens in one scenario."""
