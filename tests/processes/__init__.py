"""Tests with real processes in real time: kills, signals, restarts."""
