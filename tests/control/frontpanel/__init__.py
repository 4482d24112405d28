"""Go, stop, buzzer and light at the box."""
