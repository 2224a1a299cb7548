"""Catalogs: foods, packs, sellers, recipes; read, checked, frozen."""
