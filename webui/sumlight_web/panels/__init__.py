"""Panels: the last exposures and the record of one."""
