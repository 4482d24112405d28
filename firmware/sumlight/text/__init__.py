"""What the box says to people: codes with values, and the English words for each. Pure."""
