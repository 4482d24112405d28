"""Pure arithmetic of light: counts, irradiance, dose and cut-off. No clock, no pins, no disk."""
