"""Tests of sumlight.twin: the fakes must be as strict and physical as they claim."""
