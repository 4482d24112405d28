"""Tests of artwork: small pictures made here, judged by closed form and by foreign libraries."""
