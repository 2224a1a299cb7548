"""The guide: pages that `planopt guide` prints, one a topic."""
