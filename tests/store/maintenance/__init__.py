"""Tests of store.maintenance."""
