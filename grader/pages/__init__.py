"""What all pages share: the Jinja environment, the frame around a page, styles and scripts, data within a page."""
