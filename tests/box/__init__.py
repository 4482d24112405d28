"""Tests of the box's description and devices."""
