"""What is screwed to the box: its description, the lamp banks, the lid and the light meters."""
