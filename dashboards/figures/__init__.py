"""Frames in, figures out; nothing here opens a lab or knows a page."""
