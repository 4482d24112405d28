"""Tests of jobs, cards and timers in control."""
