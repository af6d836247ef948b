"""What comes back: scripts matched to papers or refused, facts about them, and answers keyed in from paper."""
