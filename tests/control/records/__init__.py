"""Tests of control.records."""
