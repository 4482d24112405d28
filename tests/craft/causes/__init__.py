"""Tests of why a panel failed."""
