"""What is handed out: papers drawn for candidates, as notebook, page and sheet; practice papers; what they cover."""
