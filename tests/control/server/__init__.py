"""Tests of control.server."""
