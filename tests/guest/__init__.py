"""Tests of the real daemon on a real Linux kernel, in an emulated machine; run them with `python -m tests.guest`."""
