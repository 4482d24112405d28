"""The guided first check of a box: its steps, who leads through them, and what is reported."""
