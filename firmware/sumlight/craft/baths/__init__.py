"""Baths in use: what they were mixed of, what they have taken, and how long the next panel is likely to need."""
