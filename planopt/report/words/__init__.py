"""Words: numbers, amounts, dates and steps as a person reads them."""
