"""Tests of recipes, logbook, traces and the writer's thread."""
