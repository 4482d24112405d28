"""Tests of hardware/: arithmetic, drawings, parts, units, installing."""
