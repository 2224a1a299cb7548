"""What others publish or print, read into our records: recipes, composition, prices, receipts."""
