"""What the command line offers before it knows whether the libraries of the extra are there. Imports none of them."""

BLACKS = ("open", "metal")
"""What black stands for: with resist that light hardens, black keeps light off, and the metal there goes."""
BUILDS = ("sheet", "foil", "masked")
"""A free sheet open on both sides; foil on a carrier; a sheet with one side masked."""
UM_PER_INCH = 25_400.0
CROPS = ("frame", "inside", "no")
"""To the drawn frame with its line, or inside of it; without a frame to all ink; or not at all."""
RESISTS = ("negative", "positive")
"""Light hardens it, as dry film; or light makes it soluble."""
