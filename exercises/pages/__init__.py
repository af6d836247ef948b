"""Scripts and styles that pages of the book and of papers have in common; data files, no code of Python."""
