"""Care for the logbook's file: copies, recovery after damage, and what tells whether it is sound."""
