"""Pure arithmetic of the etcher's trade: step tablets, dose and time, holding."""
