"""What is read after marking: results, feedback, debrief, items, moderation, decisions."""
