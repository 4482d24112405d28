"""Artwork: a scan goes in, a pair of films and a picture of the part come out. The work is another process's."""
