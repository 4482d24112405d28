"""Tests of control: its parts, and the whole of it on the simulated box."""
