"""Every key of the hand-edited files changes what the box does."""
