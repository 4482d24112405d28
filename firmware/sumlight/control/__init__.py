"""The loop that decides about light: permit, faults, exposure, and the local socket through which it is commanded."""
