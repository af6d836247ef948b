"""Certificates, their register, and the check of a whole school folder or of one file."""
