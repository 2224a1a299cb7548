"""Changing the user's own files in place: only what is asked for, every other byte as it was."""
