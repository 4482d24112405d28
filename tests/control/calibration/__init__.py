"""Tests of control.calibration."""
