"""From what happens to what is kept: the recorder, what is read off it, and what is looked through at night."""
