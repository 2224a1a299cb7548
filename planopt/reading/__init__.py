"""Reading text, CSV and YAML: data with their places, and every fault in words."""
