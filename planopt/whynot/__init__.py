"""Why not: what of the user's own limits clashes, and the least that would have to give."""
