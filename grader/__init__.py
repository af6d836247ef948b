"""Papers, scripts, marks: everything that a school folder needs. ``cli`` is the command ``pitside``."""
