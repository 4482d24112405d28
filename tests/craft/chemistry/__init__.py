"""Tests of the baths."""
