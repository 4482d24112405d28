"""Go, stop, buzzer and light at the box: what a press means, and what is told."""
