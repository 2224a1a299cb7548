"""Edit: a working sheet of a written week on a local page, to change and plan it anew by hand."""
