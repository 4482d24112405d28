"""The page Help: the manual, in the reader's language."""
