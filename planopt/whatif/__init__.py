"""What if: changed scenarios solved from a plan at hand, and what the changes cost."""
