"""Light: what doses are worth, and every measurement that tells."""
