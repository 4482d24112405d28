"""Tests of sumlight.light."""
