"""planopt: the cheapest week of meals that honestly complies."""

__version__ = "0.1.0"
