"""Energy and macronutrient windows from a person's measures, by published equations.

`compute.targets_for` is the front door. Every figure names its source; nothing here promises that
a weight changes, and nothing here is medical advice.
"""
