"""Files: a plan written to a folder, and read back."""
