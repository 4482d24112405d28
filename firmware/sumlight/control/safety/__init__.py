"""What keeps people out of the light: permit, faults, interlocks, light monitor, watchdog, and the one door to dark."""
