"""What outlives a power cut: recipes as files, everything that happened as a SQLite logbook."""
