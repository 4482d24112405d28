"""Figures of the project against their goals: `python -m tests.benchmarks [NAME …] [--quick] [--json] [--keep]`."""
