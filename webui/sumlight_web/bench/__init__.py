"""Bench: what the box does now, what to do next, and the commands."""
