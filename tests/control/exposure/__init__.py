"""Tests of control.exposure.state_machine."""
