"""Jobs of the bench: cards of panels, and timers. Nothing here is asked before light."""
