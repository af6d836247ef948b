"""What is held about a person: told, handed over, deleted."""
