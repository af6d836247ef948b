"""The school folder: settings, roster, register and log, and how files are written so that nothing is lost."""
