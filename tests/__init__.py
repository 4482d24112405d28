"""Tests of Sumlight; folders mirror the packages."""
