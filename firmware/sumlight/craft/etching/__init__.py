"""Etching: how long, how far sideways, what to draw instead, and what is too small for a thickness."""
