"""The bar at the bottom of every page: the state, the time left, the one next act, and *Lamps off*."""
