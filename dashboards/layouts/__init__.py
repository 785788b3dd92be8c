"""Frames in, components out; nothing here opens a lab or knows a callback."""
