"""Rolls, metal and stencils on the shelf."""
