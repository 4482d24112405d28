"""What control and its clients say to each other: the messages, and the client that sends them."""
