"""How control is asked: the socket, the commands, and the snapshot that clients see."""
