"""What is to be known of a single recipe: amounts, nutrition, cost, allergens, keeping, swaps."""
