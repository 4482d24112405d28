"""The logbook, a SQLite file: its schema, what is written and read, and the thread that writes."""
