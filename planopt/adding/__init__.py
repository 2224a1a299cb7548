"""Adding foods, recipes, prices and clients to a kitchen's files, asked for or by options.

What is added is checked with the whole catalog or scenario before it stays; a file with a new fault
is put back as it was.
"""
