"""Tests of control.commissioning.state_machine."""
