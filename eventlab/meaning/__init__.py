"""From rows of text cells to events: what, when, where and who each row tells."""
