"""Tests of what control and its clients say to each other."""
