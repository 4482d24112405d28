"""Baths in use: load, life and times."""
