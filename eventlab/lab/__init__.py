"""Joins the rooms: taking, asking, proving; the face that other code uses."""
