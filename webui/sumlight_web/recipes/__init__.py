"""Recipes: the list, and the form that makes and changes them."""
