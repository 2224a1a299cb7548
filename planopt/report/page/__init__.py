"""The page: a plan as one self-contained HTML file to shop, cook and eat from, and its labels."""
