"""HiGHS: models as arrays, runs, and what their endings mean."""
