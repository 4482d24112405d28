"""Box: health, what the box is, and the way from power-on to the first panel."""
