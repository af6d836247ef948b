"""Signatures: the school's key pair, open credentials, and lists that are signed line by line."""
