"""Several boxes: publisher, collector, what is measured of them, and what must never come over a wire."""
