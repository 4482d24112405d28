"""Tests of store.codecs."""
