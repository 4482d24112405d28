"""Sumlight: a controller for UV exposure boxes that stops on measured dose, not on minutes."""

__version__ = "0.1.0"
