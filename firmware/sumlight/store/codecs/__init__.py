"""Samples and journals as small blobs and back, without losing a bit. Pure."""
