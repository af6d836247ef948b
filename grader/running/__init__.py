"""Run returned notebooks in a room of their own, and check every word that comes out of it."""
