"""Tests of etching."""
