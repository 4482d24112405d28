"""Tests of what the box says."""
