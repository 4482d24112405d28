"""Baths: sums of the bench. Nothing here asks the box or writes anything."""
