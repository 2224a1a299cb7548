"""Plan: variable values as meals, batches and purchases."""
