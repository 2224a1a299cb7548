"""Problem: catalog and scenario as sorted index sets and coefficient tables."""
