"""Tests of the trade's arithmetic."""
