"""Mutation check: small mistakes are put into the code that decides about light; the tests must notice each one."""
