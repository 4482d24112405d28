"""Jobs: the cards of panels on their way over the bench, their plans, and timers. Control keeps all of it."""
