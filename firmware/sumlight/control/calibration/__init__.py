"""What a dose is worth: which calibration holds, the lamp's colour, uncertainty, self-tests, and what series tell."""
