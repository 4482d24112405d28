"""Plans, cards, instructions and timers of the bench."""
