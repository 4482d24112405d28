"""Artwork: read it at true scale, check and clean it, see the part before metal is spent, and draw what gives it.

Needs the extra `artwork`. Arrays in, arrays out; no box, no page.
"""
