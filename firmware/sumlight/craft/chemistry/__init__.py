"""Baths: strengths, mixing, what they take up, gas and heat, what must not meet. Arithmetic, no instruction."""
