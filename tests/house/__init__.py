"""The structure of the house: what may import what, and the picture of it."""
