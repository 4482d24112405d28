"""Lamps: hours, starts, and how strong the light was over the life of each bank."""
