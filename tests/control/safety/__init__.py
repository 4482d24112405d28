"""Tests of what keeps people out of the light."""
