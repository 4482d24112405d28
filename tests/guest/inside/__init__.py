"""What runs inside the emulated machine: the simulated parts and the checks."""
