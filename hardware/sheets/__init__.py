"""The drawings, one module each, and the list of connections that the Pi's drawing and the README share."""
